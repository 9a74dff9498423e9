// The inbox by keyboard, and a take that played to its end is noted as heard. Without scripts the buttons do it.
import { isOff } from "./search.js";

const rows = [...document.querySelectorAll("#inbox > li")];
const token = document.body.dataset.csrf;

async function note(row) {
  const form = new FormData();
  form.append("csrf", token);
  form.append("take", row.dataset.take);
  const answer = await fetch("/hear/listened", { method: "POST", body: new URLSearchParams(form), redirect: "manual" });
  if (answer.type !== "opaqueredirect") return;
  row.classList.add("done");
  const button = row.querySelector("button");
  button.textContent = "Noted";
  button.disabled = true;
}

function go(step) {
  const at = rows.findIndex((row) => row.contains(document.activeElement));
  const next = rows[Math.min(Math.max(at + step, 0), rows.length - 1)];
  next?.querySelector("[data-open]").focus();
  next?.scrollIntoView({ block: "nearest" });
}

function play(row) {
  const audio = row?.querySelector("audio");
  if (!audio) return;
  if (!audio.paused) return audio.pause();
  for (const other of document.querySelectorAll("audio")) other.pause();
  audio.play();
}

for (const row of rows) {
  row.querySelector("audio")?.addEventListener("ended", () => note(row));
}
// Only while a row has the focus, or nothing has: no letter is taken from a field or from a reader's own keys.
document.addEventListener("keydown", (event) => {
  if (isOff() || event.ctrlKey || event.altKey || event.metaKey || event.target.matches("input, textarea, select, audio, button, summary")) return;
  const row = rows.find((each) => each.contains(document.activeElement));
  const act = { j: () => go(1), k: () => go(-1), h: () => row && note(row), " ": () => row && play(row) }[event.key];
  if (!act || (event.key === " " && !row)) return;
  event.preventDefault();
  act();
});
const keys = document.getElementById("keys");
if (keys && rows.length && !isOff()) keys.hidden = false;
