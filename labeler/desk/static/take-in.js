// Lets files be dropped on the form, and says what is on its way; the form works without it.
const ENDINGS = /\.(xlsx|xls|ods|csv|txt|tsv|xlsm|xlsb)$/i;

const given = (field, files) => {
  const held = new DataTransfer();
  for (const file of files) held.items.add(file);
  field.files = held.files;
};

for (const form of document.querySelectorAll("form.drop")) {
  const sheet = form.querySelector("[name=sheet]");
  const photos = form.querySelector("[name=photos]");
  const says = form.querySelector(".sending");

  const tell = () => {
    const parts = [];
    if (sheet?.files.length) parts.push(sheet.files[0].name);
    if (photos.files.length) parts.push(`${photos.files.length} ${photos.files.length === 1 ? "photo" : "photos"}`);
    says.textContent = parts.length ? `Chosen: ${parts.join(", ")}.` : "";
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
    const sheets = files.filter((file) => sheet && ENDINGS.test(file.name));
    if (sheets.length) given(sheet, sheets.slice(0, 1));
    if (files.length > sheets.length) given(photos, files.filter((file) => !sheets.includes(file)));
    tell();
  });
  form.addEventListener("change", tell);
  form.addEventListener("submit", () => {
    if (photos.files.length) says.textContent = `Reading and shrinking ${photos.files.length} ${photos.files.length === 1 ? "photo" : "photos"}. This takes a moment.`;
  });
}
