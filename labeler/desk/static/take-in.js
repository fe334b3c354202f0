// Lets files be dropped on a form, and sends photos one by one with a true count of them.
// The forms work without it.
const SHEETS = /\.(xlsx|xls|ods|csv|txt|tsv|xlsm|xlsb)$/i;

const given = (field, files) => {
  const held = new DataTransfer();
  for (const file of files) held.items.add(file);
  field.files = held.files;
};
const photosOf = (count) => `${count} ${count === 1 ? "photo" : "photos"}`;

// Sends the sheet as the form would, then each photo; returns the page that leads on, or a fault's
// with what was kept by then and the photos that were not sent.
const send = async (form, sheet, photos, told) => {
  const parts = sheet?.files.length ? [["sheet", sheet.files[0]]] : [];
  for (const photo of photos.files) parts.push(["photos", photo]);
  let leads = null;
  const left = [];
  for (const [at, [field, file]] of parts.entries()) {
    told(at, parts.length, file.name);
    const body = new FormData();
    body.append(field, file);
    const answer = await fetch(form.action, { method: "POST", body });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    if (!answer.ok) {
      const sent = parts.slice(0, at);
      const count = sent.filter(([name]) => name === "photos").length - left.length;
      const kept = sent.length > 0 && sent[0][0] === "sheet" ? ["the spreadsheet"] : [];
      if (count > 0) kept.push(photosOf(count));
      const rest = parts.slice(at).filter(([name]) => name === "photos").map(([, photo]) => photo);
      return { page, left, rest, kept: kept.length ? `Kept before that: ${kept.join(" and ")}.` : "" };
    }
    if (answer.redirected && !(leads && field === "photos")) leads = answer.url;
    left.push(...page.querySelectorAll(".notice .findings > li"));
  }
  return { leads: leads ?? location.href, left };
};

// Puts a fault's page in the place of this one; what was not sent stays chosen.
const instead = (shown, kept, left, rest) => {
  document.querySelector("main").replaceWith(shown);
  wire(shown);
  if (kept || left.length) {
    const note = document.createElement("div");
    note.className = "notice";
    note.setAttribute("role", "status");
    note.append(kept);
    if (left.length) {
      const list = document.createElement("ul");
      list.className = "findings";
      list.append(...left);
      note.append(" These are not kept:", list);
    }
    shown.querySelector("h1").after(note);
  }
  const field = shown.querySelector("form.drop [name=photos]");
  if (field && rest.length) {
    given(field, rest);
    field.dispatchEvent(new Event("change", { bubbles: true }));
  }
  shown.querySelector("[aria-invalid], .wrong")?.focus();
};

const wire = (root) => {
  for (const form of root.querySelectorAll("form.drop")) connect(form);
};

const connect = (form) => {
  const sheet = form.querySelector("[name=sheet], [name=log]");
  const photos = form.querySelector("[name=photos]");
  const says = form.querySelector(".sending");

  const tell = () => {
    const parts = [];
    if (sheet?.files.length) parts.push(sheet.files[0].name);
    if (photos?.files.length) parts.push(photosOf(photos.files.length));
    says.textContent = parts.length ? `Chosen: ${parts.join(" and ")}.` : "";
  };

  form.addEventListener("dragover", (event) => {
    event.preventDefault();
    form.classList.add("over");
  });
  form.addEventListener("dragleave", () => form.classList.remove("over"));
  form.addEventListener("drop", (event) => {
    event.preventDefault();
    form.classList.remove("over");
    const files = [...event.dataTransfer.files];
    const sheets = files.filter((file) => sheet && SHEETS.test(file.name));
    if (sheets.length) given(sheet, sheets.slice(0, 1));
    if (photos && files.length > sheets.length) given(photos, files.filter((file) => !sheets.includes(file)));
    tell();
  });
  form.addEventListener("change", tell);

  form.addEventListener("submit", async (event) => {
    if (!photos || photos.files.length < 2) return;
    event.preventDefault();
    const bar = document.createElement("progress");
    bar.setAttribute("aria-label", "Files that are taken in");
    says.before(bar);
    const button = form.querySelector("button");
    const ready = () => {
      bar.remove();
      button.disabled = false;
      button.focus(); // which it lost while it could not be pressed
    };
    button.disabled = true;
    try {
      const { page, leads, left, rest, kept } = await send(form, sheet, photos, (at, of, name) => {
        bar.max = of;
        bar.value = at;
        says.textContent = `${at + 1} of ${of}: ${name}`;
      });
      if (page) {
        const shown = page.querySelector("main");
        if (shown) return instead(shown, kept, left, rest);
        given(photos, rest);
        if (kept && sheet) sheet.value = "";
        says.textContent = `${kept} The desk does not take the rest. Load this page again, and choose it again.`.trim();
        return ready();
      }
      if (!left.length) return location.assign(leads);
      const list = document.createElement("ul");
      list.className = "findings";
      list.append(...left);
      const on = document.createElement("a");
      on.href = leads;
      on.textContent = "Go on without them";
      form.replaceChildren("These are not kept:", list, on);
      on.focus();
    } catch {
      says.textContent = "The desk does not answer. See whether its window is still open, and send it again.";
      ready();
    }
  });
};

wire(document);

// What falls beside a form goes to the first: the browser would leave the desk to show the file.
for (const kind of ["dragover", "drop"]) {
  document.addEventListener(kind, (event) => {
    if (event.defaultPrevented || !event.dataTransfer?.types.includes("Files")) return;
    event.preventDefault();
    if (kind === "dragover") return;
    const held = { dataTransfer: event.dataTransfer, cancelable: true };
    document.querySelector("form.drop")?.dispatchEvent(new DragEvent("drop", held));
  });
}
