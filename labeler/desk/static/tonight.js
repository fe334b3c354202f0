// Says what will be made while it is counted; without this a button does.
const form = document.querySelector("form.tying");
const look = document.getElementById("look");
let waiting = 0;
let asked = 0;

const ask = async () => {
  const mine = ++asked;
  const body = new URLSearchParams(new FormData(form));
  if (![...body].some(([name, value]) => name.startsWith("n-") && value.trim())) return;
  body.set("only", "1");
  try {
    const answer = await fetch(look.formAction, { method: "POST", body });
    const said = new DOMParser().parseFromString(await answer.text(), "text/html");
    const part = said.getElementById("understood");
    if (!part || mine !== asked) return;
    if (part.dataset.again) document.getElementById("another").hidden = false;
    document.getElementById("understood").replaceChildren(...part.childNodes);
  } catch {
    // The desk was closed: the button says so.
  }
};

look.hidden = true;
form.addEventListener("input", () => {
  clearTimeout(waiting);
  waiting = setTimeout(ask, 350);
});
