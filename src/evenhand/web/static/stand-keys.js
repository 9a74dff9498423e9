// The stand's keys: the space bar is the big button; the arrows skip, and play again what was played.

const BUTTONS = { ArrowRight: "skip", ArrowLeft: "again" };

/** `toggle()` does what the big button does; while it is not `idle()` the space bar does so wherever the focus is. */
export function bindKeys({ toggle, idle, over }) {
  const go = document.getElementById("go");
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.repeat || over()) return;
    if (event.target.closest("input:not([type=radio], [type=range]), textarea, select, audio")) return;
    if (event.code === "Space" && !go.hidden) {
      const other = event.target.closest("button, summary, a, input, [tabindex='0']");
      if (other && other !== go && idle()) return;
      event.preventDefault();
      toggle();
    } else if (BUTTONS[event.code] && !event.target.closest("input")) {
      const button = document.getElementById(BUTTONS[event.code]);
      if (button.hidden) return;
      event.preventDefault();
      button.click();
    }
  });
  document.addEventListener("keyup", (event) => {
    if (event.code === "Space" && event.target === go) event.preventDefault();
  });
}
