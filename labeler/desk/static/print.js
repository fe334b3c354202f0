// Says what is chosen so far, and lets the sheet be clicked on; both forms work without it.
const choosing = document.querySelector("form.choosing");
if (choosing) {
  const sum = document.getElementById("sum");
  const count = () => {
    const counted = [...choosing.querySelectorAll("input[name^='n-'], input[name^='l-']")]
      .map((field) => Number(field.value.trim()))
      .filter((number) => Number.isInteger(number) && number > 0);
    const all = counted.reduce((so, number) => so + number, 0);
    const thing = choosing.elements.use.value === "cards" ? "card" : "label";
    sum.textContent = counted.length
      ? `${all} ${thing}${all === 1 ? "" : "s"} in ${counted.length} ${counted.length === 1 ? "line" : "lines"}.`
      : "";
  };
  choosing.addEventListener("input", count);
  count();
}

const sheet = document.querySelector("svg.sheet");
if (sheet) {
  const form = document.querySelector("form.placing");
  const { start, spoiled, spare, count } = form.elements;
  const cells = [...sheet.querySelectorAll(".cell")];
  const across = sheet.querySelector("g").children.length;
  const known = new Set(sheet.dataset.used.split(",").filter(Boolean).map(Number));
  let on = 0;

  const begun = () => !form.elements.begun || form.elements.begun.value === "on";
  const used = () => (begun() ? known : new Set());
  const parts = () => spoiled.value.split(/[\s,;]+/).filter(Boolean);
  const named = (part) => {
    const found = /^(?:1:)?(\d+)(?:-(\d+))?$/.exec(part);
    if (!found) return [];
    const first = Number(found[1]);
    const last = Math.min(Number(found[2] || first), cells.length);
    return Array.from({ length: Math.max(0, last - first + 1) }, (_, at) => first + at);
  };

  const draw = () => {
    const first = Number(start.value) || 1;
    const gone = used();
    const bad = new Set(parts().flatMap(named));
    let left = count
      ? Number(count.value) || 0
      : Number(sheet.dataset.total) + (Number(spare.value) || 0) * Number(sheet.dataset.kinds);
    const whole = left;
    cells.forEach((cell, at) => {
      const number = at + 1;
      const is = {
        used: gone.has(number) || (number < first && !bad.has(number)),
        spoiled: bad.has(number) && !gone.has(number),
      };
      is.filled = !is.used && !is.spoiled && left > 0;
      if (is.filled) left -= 1;
      for (const [name, so] of Object.entries(is)) cell.classList.toggle(name, so);
      const words = is.spoiled ? "spoiled" : is.used ? "used" : is.filled ? "printed on" : "free";
      cell.setAttribute("aria-label", `Cell ${number}, ${words}${number === first ? ", the first" : ""}`);
    });
    document.getElementById("fills").textContent = left > 0
      ? `${whole - left} on this sheet, ${left} on the sheets after it.`
      : `${whole} on this sheet.`;
  };

  const press = (at) => {
    const number = at + 1;
    if (form.elements.click.value === "first") {
      if (used().has(number)) return;
      start.value = number;
      form.elements.click.value = "spoiled";
    } else {
      const now = parts();
      const bad = now.flatMap(named);
      spoiled.value = bad.includes(number)
        ? [...bad.filter((one) => one !== number), ...now.filter((part) => !named(part).length)].join(", ")
        : [...now, number].join(", ");
    }
    draw();
  };

  const move = (to) => {
    if (to < 0 || to >= cells.length) return;
    cells[on].setAttribute("tabindex", "-1");
    on = to;
    cells[on].setAttribute("tabindex", "0");
    cells[on].focus();
  };

  const keys = {
    ArrowLeft: () => move(on - 1),
    ArrowRight: () => move(on + 1),
    ArrowUp: () => move(on - across),
    ArrowDown: () => move(on + across),
    Home: () => move(0),
    End: () => move(cells.length - 1),
    " ": () => press(on),
    Enter: () => press(on),
  };

  sheet.setAttribute("role", "grid");
  for (const row of sheet.querySelectorAll(":scope > g")) row.setAttribute("role", "row");
  cells.forEach((cell, at) => {
    cell.setAttribute("role", "gridcell");
    cell.setAttribute("tabindex", at === 0 ? "0" : "-1");
    cell.addEventListener("click", () => {
      move(at);
      press(at);
    });
  });
  sheet.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !keys[event.key]) return;
    event.preventDefault();
    keys[event.key]();
  });
  form.querySelector(".clicks").hidden = false;
  form.addEventListener("input", (event) => {
    if (event.target.name === "begun") start.value = begun() ? [...cells.keys()].map((at) => at + 1).find((one) => !known.has(one)) ?? 1 : 1;
    draw();
  });
  draw();
}
