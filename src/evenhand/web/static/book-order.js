// The order of the book by dragging: an exercise is taken by its grip and dropped before or after another. The
// arrows beside it do the same without a mouse and without this script.

const EDGE_PX = 60, STEP_PX = 14;
const list = document.querySelector(".cards");
let drag = null;

function begin() {
  for (const grip of list.querySelectorAll(".grip")) {
    grip.hidden = false;
    grip.addEventListener("pointerdown", (event) => take(event, grip));
  }
}

function take(event, grip) {
  if (event.button !== 0) return;
  event.preventDefault();
  grip.setPointerCapture(event.pointerId);
  const card = grip.closest(".card");
  const ended = new AbortController();
  const { signal } = ended;
  drag = { card, over: null, after: false, ended };
  card.classList.add("dragged");
  grip.addEventListener("pointermove", move, { signal });
  grip.addEventListener("pointerup", drop, { signal });
  grip.addEventListener("pointercancel", stop, { signal });
  document.addEventListener("keydown", (each) => each.key === "Escape" && stop(), { signal });
}

function move({ clientX, clientY }) {
  if (clientY < EDGE_PX) scrollBy(0, -STEP_PX);
  if (clientY > innerHeight - EDGE_PX) scrollBy(0, STEP_PX);
  unmark();
  const over = document.elementFromPoint(clientX, clientY)?.closest(".card[id]");
  if (!over || over === drag.card) return;
  const { left, top, width, height } = over.getBoundingClientRect();
  const beside = width < list.clientWidth * 0.7; // in columns, the sides are left and right
  drag.after = beside ? clientX > left + width / 2 : clientY > top + height / 2;
  drag.over = over;
  over.classList.add(drag.after ? "drop-after" : "drop-before");
}

function unmark() {
  drag.over?.classList.remove("drop-after", "drop-before");
  drag.over = null;
}

function stop() {
  drag.ended.abort();
  unmark();
  drag.card.classList.remove("dragged");
  drag = null;
}

async function drop() {
  const { card, over, after } = drag;
  stop();
  if (!over) return;
  const fields = { csrf: document.body.dataset.csrf, entry: id(card), [after ? "after" : "before"]: id(over) };
  const answer = await fetch("/book/move", { method: "POST", body: new URLSearchParams(fields) });
  if (answer.ok) location.assign(`${answer.url}#${card.id}`);
  else location.reload(); // the book is shown as it is
}

function id(card) {
  return card.id.slice("e-".length);
}

if (list) begin();
