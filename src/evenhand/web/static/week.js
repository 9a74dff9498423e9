// What a button changes is drawn anew by the server; days that are open stay open meanwhile.

const open = new Set();

document.addEventListener("click", (event) => {
  const button = event.target.closest("#plan [name=act]");
  if (!button || !window.htmx) return;
  event.preventDefault();
  const form = button.form;
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
