// An exercise is heard where it stands: one at a time, at the speed that is chosen. Without this script the link
// opens the sound by itself. ``data-of`` names a field whose exercise is heard, as it is written there.

const audio = document.getElementById("heard-here");
const bar = document.getElementById("hearing");
const speed = document.getElementById("speed");
const click = document.getElementById("with-click");
const KEPT = "evenhand-book-hearing";
let sounding = null;

function begin() {
  const kept = remembered();
  if (kept) {
    speed.value = kept.speed;
    click.checked = kept.click;
  }
  bar.hidden = !document.querySelector("[data-hear]");
  for (const link of document.querySelectorAll("[data-hear]")) {
    link.setAttribute("role", "button");
    link.setAttribute("aria-pressed", "false");
    link.addEventListener("click", (event) => pressed(event, link));
    link.addEventListener("keydown", (event) => event.key === " " && pressed(event, link));
  }
  for (const field of [speed, click]) field.addEventListener("change", changed);
  audio.addEventListener("ended", still);
  audio.addEventListener("error", () => sounding && refused(sounding));
}

function remembered() {
  try {
    return JSON.parse(localStorage.getItem(KEPT));
  } catch {
    return null; // a browser that keeps nothing
  }
}

function changed() {
  try {
    localStorage.setItem(KEPT, JSON.stringify({ speed: speed.value, click: click.checked }));
  } catch {
    // as above
  }
  if (sounding) play(sounding);
}

function pressed(event, link) {
  event.preventDefault();
  if (sounding === link) still();
  else play(link);
}

function play(link) {
  still();
  sounding = link;
  const asked = new URL(link.href);
  const written = document.getElementById(link.dataset.of);
  if (written) asked.searchParams.set("exercise", written.value);
  asked.searchParams.set("speed", speed.value);
  asked.searchParams.set("click", click.checked ? "1" : "0");
  audio.src = asked.href;
  link.setAttribute("aria-pressed", "true");
  link.textContent = "Stop";
  audio.play().catch(() => {}); // stopped before it began; what cannot be played is an error of its own
}

function still() {
  if (!sounding) return;
  audio.pause();
  sounding.setAttribute("aria-pressed", "false");
  sounding.textContent = "Hear";
  sounding = null;
}

function refused(link) {
  still();
  link.textContent = "Cannot be played here";
}

begin();
