// Draws the jig again while its recipe is changed; without this, the button "Show" does.
const main = document.getElementById("main");
let waiting = 0;
let asked = new AbortController();

const draw = async () => {
  const form = main.querySelector("form.recipe");
  asked.abort();
  asked = new AbortController();
  try {
    const answer = await fetch(form.dataset.draw, {
      method: "POST", body: new FormData(form), signal: asked.signal,
    });
    const text = await answer.text();
    const words = document.getElementById("drawn");
    if (answer.ok) {
      const drawn = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
      document.getElementById("jig").replaceChildren(drawn);
      words.textContent = drawn.querySelector("title").textContent;
    } else if (answer.status === 422) {
      words.textContent = text;
    }
  } catch (error) {
    if (error.name !== "AbortError") throw error;
  }
};

main.addEventListener("input", (event) => {
  const other = event.target.type === "color" ? event.target.previousElementSibling : null;
  if (other) other.value = event.target.value;
  if (other ?? event.target.matches("input.ink")) match(other ?? event.target);
  clearTimeout(waiting);
  waiting = setTimeout(draw, 150);
});

// Beside every field of an ink, the system's own picker of colors.
const match = (field) => {
  const picker = field.nextElementSibling;
  if (picker?.type !== "color") return;
  const said = /^#[0-9a-f]{6}$/i.test(field.value);
  if (said) picker.value = field.value;
  picker.classList.toggle("blank", !said);
};
const pick = () => {
  for (const field of main.querySelectorAll("input.ink")) {
    const picker = document.createElement("input");
    picker.type = "color";
    picker.setAttribute("aria-label", `${field.labels[0].textContent}: pick a color`);
    field.after(picker);
    match(field);
  }
};

// Layers are moved, taken out and added without leaving the page.
main.addEventListener("submit", async (event) => {
  const button = event.submitter;
  if (button?.name !== "do" || !event.target.matches("form.recipe")) return;
  event.preventDefault();
  const [action, place] = button.getAttribute("formaction").split("#");
  const body = new FormData(event.target);
  body.set("do", button.value);
  const answer = await fetch(action, { method: "POST", body });
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  main.replaceChildren(...page.getElementById("main").childNodes);
  pick();
  main.querySelector("form.recipe")?.dispatchEvent(new Event("input", { bubbles: true }));
  const there = document.getElementById(place);
  const again = button.value.startsWith("earlier") && there?.querySelector("[value^=earlier]");
  (again || there?.querySelector("input:not([type=hidden])") || main.querySelector("[value=add]")).focus();
});

pick();
