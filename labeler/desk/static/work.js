// Shows how far long work has come; without this the page loads itself again.
const work = document.querySelector("[data-events]");
const words = document.getElementById("words");
const bar = work.querySelector("progress");
const events = new EventSource(work.dataset.events);

events.onmessage = (event) => {
  const now = JSON.parse(event.data);
  if (words.textContent !== now.words) words.textContent = now.words;
  if (now.of) {
    bar.max = now.of;
    bar.value = now.done;
  }
  if (now.over) {
    events.close();
    location.reload();
  }
};
// A desk that was ended may be begun again: the browser tries by itself, and says nothing.
