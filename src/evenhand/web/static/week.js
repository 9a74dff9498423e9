// What is typed is kept and added up by the server, and only the sums are put in; what a button changes is drawn
// anew, and days that are open stay open meanwhile. One request at a time, so that none overtakes another.

const PAUSE_MS = 250;
const MOST_LASTING = 60_000; // bytes that a browser sends on for a page that is being left
const LEFT = "evenhand-week-left", JUST_NOW_MS = 10_000;
const open = new Set();
const form = document.getElementById("week-form");
const address = `${form.getAttribute("action")}/sum`;
let page = newPage();
let stamp = 0;
let waiting = 0;
let dirty = false, asking = false;

function newPage() {
  return [...crypto.getRandomValues(new Uint8Array(12))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

form.addEventListener("input", () => {
  dirty = true;
  clearTimeout(waiting);
  waiting = setTimeout(addUp, PAUSE_MS);
});
form.addEventListener("change", addUp); // a field is left: perhaps the page is, too
window.addEventListener("pagehide", leave);
document.addEventListener("visibilitychange", () => document.visibilityState === "hidden" && leave());
window.addEventListener("pageshow", ({ persisted }) => {
  if (persisted) page = newPage(); // come back to: what it sent before is done with
});
document.addEventListener("submit", ({ target }) => {
  const field = target.elements.namedItem("page");
  if (!field) return;
  clearTimeout(waiting);
  dirty = false; // what is typed goes with it, or is discarded
  field.value = page;
});

// What was typed last is on its way when the page is left; one that is opened at once may come before it.
function leave() {
  if (!dirty) return;
  const body = typed();
  try {
    sessionStorage.setItem(LEFT, JSON.stringify({ at: Date.now(), to: address, body }));
  } catch {
    // a browser that keeps nothing: the request alone has to do
  }
  ask(body).catch(() => {});
}

async function comeBack() {
  const left = JSON.parse(sessionStorage.getItem(LEFT) ?? "null");
  sessionStorage.removeItem(LEFT);
  if (!left || left.to !== address || Date.now() - left.at > JUST_NOW_MS) return;
  const answer = await ask(left.body);
  if (answer.ok) location.reload();
}

async function addUp() {
  clearTimeout(waiting);
  if (asking || !dirty) return;
  asking = true;
  try {
    const answer = await ask(typed());
    if (!answer.ok) throw new Error(answer.status);
    putIn(await answer.text());
  } catch {
    const total = document.getElementById("week-total") ?? document.getElementById("head-wrong");
    total.textContent = form.dataset.unreached;
  }
  asking = false;
  if (dirty) addUp();
}

/** Returns what stands in the form now. */
function typed() {
  dirty = false;
  const fields = new FormData(form);
  fields.set("page", page);
  fields.set("stamp", ++stamp);
  return new URLSearchParams(fields).toString();
}

function ask(body) {
  const headers = {
    "Content-Type": "application/x-www-form-urlencoded",
    "HX-Request": "true",
    "X-Evenhand-Csrf": document.body.dataset.csrf,
  };
  return fetch(address, { method: "POST", headers, body, keepalive: body.length < MOST_LASTING });
}

// Put in what differs from what stands there.
function putIn(text) {
  for (const sum of new DOMParser().parseFromString(text, "text/html").body.children) {
    const there = document.getElementById(sum.id);
    if (there && there.innerHTML !== sum.innerHTML) there.innerHTML = sum.innerHTML;
  }
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("#plan [name=act], [form=week-form][name=act]");
  if (!button || !window.htmx) return;
  event.preventDefault();
  clearTimeout(waiting);
  dirty = false;
  const act = button.value;
  window.htmx.ajax("POST", address, {
    source: form,
    target: "#plan",
    swap: "outerHTML",
    values: { act },
  }).then(() => settle(button.id));
});

// The focus stays where it was, or goes to the row that was added.
function settle(id) {
  const added = id.startsWith("add-") && [...document.querySelectorAll(`#day-${id.slice(4)} [name=row_exercise]`)].pop();
  const same = document.getElementById(id), seen = same?.checkVisibility() ? same : null;
  const again = added || seen || document.getElementById("week-total");
  if (again) again.focus();
  const days = document.querySelector("[name=day_count]");
  const asked = document.getElementById("days");
  if (id.startsWith("drop-") && days && asked) asked.value = days.value;
}

document.body.addEventListener("htmx:configRequest", ({ detail }) => {
  if (detail.verb !== "post") return;
  detail.parameters.page = page;
  detail.parameters.stamp = ++stamp;
});

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

comeBack().catch(() => {});
