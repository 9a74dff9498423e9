// The key "/" goes to the one search. Keys that are letters can be switched off on the search page, for those who
// speak to their computer or whose keys are others (WCAG 2.2, 2.1.4). Without scripts the search is a form.
const OFF = "evenhand-no-letters";
const field = document.getElementById("search");
export const isOff = () => {
  try {
    return localStorage.getItem(OFF) === "yes";
  } catch {
    return false; // a browser that keeps nothing
  }
};

document.addEventListener("keydown", (event) => {
  if (event.key !== "/" || event.ctrlKey || event.altKey || event.metaKey || isOff()) return;
  if (event.target.closest("input:not([type=checkbox], [type=radio]), textarea, select, [contenteditable]")) return;
  event.preventDefault();
  field.focus();
  field.select();
});
const choice = document.getElementById("letters");
if (choice) {
  const tick = choice.querySelector("input");
  choice.hidden = false;
  tick.checked = !isOff();
  tick.addEventListener("change", () => {
    if (tick.checked) localStorage.removeItem(OFF);
    else localStorage.setItem(OFF, "yes");
  });
}
