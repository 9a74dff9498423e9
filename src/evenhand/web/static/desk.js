// The desk's few gestures: copy a link, print a page. Without scripts the address can still be marked and copied.
for (const button of document.querySelectorAll("[data-copy]")) {
  const field = button.parentElement.querySelector("[data-copies]");
  button.hidden = false;
  field.addEventListener("focus", () => field.select());
  button.addEventListener("click", async () => {
    field.focus();
    field.select();
    try {
      await navigator.clipboard.writeText(field.value);
    } catch {
      document.execCommand("copy"); // a page without HTTPS has no clipboard of its own
    }
    button.textContent = button.dataset.done;
  });
}
for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
