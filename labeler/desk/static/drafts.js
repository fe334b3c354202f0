// Keeps what is typed into a form until it is sent, and fills it in when the page is opened again.
const main = document.getElementById("main");
const KEEP = main.dataset.draft;
const known = new Set(main.dataset.drafts.split(" ").filter(Boolean));
const PATIENCE = 300;
const waiting = new Map();

const pathOf = (form) => new URL(form.getAttribute("action"), location.href).pathname;
const sends = (form) => form?.getAttribute("method") === "post" && form.hasAttribute("action");
const typed = (field) => field.name && !["hidden", "file", "submit", "button"].includes(field.type);

const bodyOf = (form) => {
  const body = new URLSearchParams();
  for (const [name, value] of new FormData(form)) {
    if (typeof value === "string") body.append(name, value);
  }
  for (const field of form.elements) {
    if (field.type === "checkbox" && field.name && !field.checked) body.append("draft-off", field.name);
  }
  body.set("draft-form", pathOf(form));
  return body;
};

const keep = (form) => {
  clearTimeout(waiting.get(form));
  waiting.delete(form);
  navigator.sendBeacon(KEEP, bodyOf(form));
};

for (const kind of ["input", "change"]) {
  document.addEventListener(kind, (event) => {
    const form = event.target.form ?? event.target.closest?.("form");
    if (!sends(form) || ![...form.elements].some(typed)) return;
    clearTimeout(waiting.get(form));
    waiting.set(form, setTimeout(keep, PATIENCE, form));
  });
}
// Once it is sent, the desk knows what became of it.
document.addEventListener("submit", (event) => {
  if (event.defaultPrevented) return;
  clearTimeout(waiting.get(event.target));
  waiting.delete(event.target);
});
addEventListener("pagehide", () => [...waiting.keys()].forEach(keep));

// What was kept of a hidden field says which state of the catalog was looked at.
const LOOKED_AT = ["was", "had"];

const fill = (form, { fields, off }) => {
  const said = new Map();
  for (const [name, value] of fields) said.set(name, [...(said.get(name) ?? []), value]);
  let changed = false;
  for (const field of form.elements) {
    if (!typed(field) && !LOOKED_AT.includes(field.name)) continue;
    const before = field.type === "checkbox" || field.type === "radio" ? field.checked : field.value;
    if (field.type === "checkbox" || field.type === "radio") {
      if (said.get(field.name)?.includes(field.value)) field.checked = true;
      else if (off.includes(field.name)) field.checked = false;
      if (field.checked === before) continue;
    } else {
      const value = said.get(field.name)?.shift();
      if (value === undefined || value === before) continue;
      if (field.options && ![...field.options].some((one) => one.value === value)) continue;
      field.value = value;
      if (!typed(field)) continue;
    }
    changed = true;
    for (let part = field.closest("details"); part; part = part.parentElement.closest("details")) part.open = true;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }
  return changed;
};

const told = (form, words, act) => {
  form.parentElement.querySelector(":scope > .draft")?.remove();
  const note = document.createElement("div");
  note.className = "notice draft";
  note.setAttribute("role", "status");
  const text = document.createElement("p");
  text.textContent = words;
  const leave = document.createElement("button");
  leave.type = "button";
  leave.className = "plain";
  leave.textContent = "Leave it out";
  leave.addEventListener("click", async () => {
    for (const timer of waiting.values()) clearTimeout(timer);
    waiting.clear();
    await fetch(`${KEEP}/drop`, { method: "POST", body: bodyOf(form) });
    location.reload();
  });
  note.append(text, ...(act ? [act] : []), leave);
  form.before(note);
};

const button = (words) => {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = words;
  return made;
};

const FILLED = "What you had typed here is filled in again. It is not written yet.";
const WAITS = "What you had typed here is kept, and not written yet.";

const bring = async (form) => {
  const answer = await fetch(`${KEEP}/find`, { method: "POST", body: bodyOf(form) });
  if (answer.status !== 200) return;
  const draft = await answer.json();
  const lacking = draft.fields.some(([name, value]) => value && !form.elements.namedItem(name));
  const asked = [...new URLSearchParams(location.search).keys()];
  const act = button("Fill it in again");
  if (lacking && form.dataset.shown) {  // more fields than the page has by itself: the desk shows them
    act.addEventListener("click", () => {
      const again = document.createElement("form");
      again.method = "post";
      again.action = form.dataset.shown;
      for (const [name, value] of draft.fields) {
        const field = document.createElement("input");
        Object.assign(field, { type: "hidden", name, value });
        again.append(field);
      }
      main.append(again);
      again.submit();
    });
    told(form, WAITS, act);
  } else if (asked.some((name) => name === "again" || [...form.elements].some((one) => one.name === name && typed(one)))) {
    act.addEventListener("click", () => {
      fill(form, draft);
      told(form, FILLED);
    });
    told(form, WAITS, act);
  } else if (fill(form, draft)) {
    told(form, FILLED);
  }
};

if (!main.hasAttribute("data-sent")) {
  for (const form of main.querySelectorAll("form")) {
    if (sends(form) && known.has(pathOf(form)) && [...form.elements].some(typed)) bring(form);
  }
}
