// What is typed is added up by the server, and only the sums are put in; what a button changes is drawn anew,
// and days that are open stay open meanwhile.

const PAUSE_MS = 250;
const open = new Set();
const form = document.getElementById("week-form");
let waiting = 0;
let asking = null;

form.addEventListener("input", () => {
  clearTimeout(waiting);
  waiting = setTimeout(addUp, PAUSE_MS);
});

async function addUp() {
  if (!document.querySelector("[name=day_count]")) return;
  if (asking) asking.abort();
  asking = new AbortController();
  const headers = { "HX-Request": "true", "X-Evenhand-Csrf": document.body.dataset.csrf };
  const body = new URLSearchParams(new FormData(form));
  try {
    const answer = await fetch(`${form.getAttribute("action")}/sum`, {
      method: "POST", headers, body, signal: asking.signal,
    });
    if (answer.ok) putIn(await answer.text());
  } catch (error) {
    if (error.name !== "AbortError") document.getElementById("week-total").textContent = form.dataset.unreached;
  }
}

// Put in what differs from what stands there.
function putIn(text) {
  for (const sum of new DOMParser().parseFromString(text, "text/html").body.children) {
    const there = document.getElementById(sum.id);
    if (there && there.innerHTML !== sum.innerHTML) there.innerHTML = sum.innerHTML;
  }
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("#plan [name=act]");
  if (!button || !window.htmx) return;
  event.preventDefault();
  clearTimeout(waiting);
  if (asking) asking.abort();
  const act = button.value;
  window.htmx.ajax("POST", `${form.getAttribute("action")}/sum`, {
    source: form,
    target: "#plan",
    swap: "outerHTML",
    values: { act },
  }).then(() => settle(button.id));
});

// The focus stays where it was, or goes to the row that was added.
function settle(id) {
  const added = id.startsWith("add-") && [...document.querySelectorAll(`#day-${id.slice(4)} [name=row_exercise]`)].pop();
  const again = added || document.getElementById(id) || document.getElementById("week-total");
  if (again) again.focus();
  const days = document.querySelector("[name=day_count]");
  const asked = document.getElementById("days");
  if (id.startsWith("drop-") && days && asked) asked.value = days.value;
}

document.body.addEventListener("htmx:beforeSwap", (event) => {
  if (event.detail.target.id !== "plan") return;
  open.clear();
  for (const day of document.querySelectorAll("details.day[open]")) open.add(day.id);
});

document.body.addEventListener("htmx:afterSwap", () => {
  for (const id of open) {
    const day = document.getElementById(id);
    if (day) day.open = true;
  }
});
