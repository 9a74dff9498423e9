// What the stand says of its state: one line that is read aloud, troubles with a way on, the day's bar.

import { getJson, say } from "./stand-page.js";

const element = (id) => document.getElementById(id);
let playWithout = () => {};

/** Says in one line what goes on; nothing for no key. */
export function status(key, values) {
  if (!key?.startsWith("playing")) element("status").setAttribute("aria-live", "polite");
  element("status").textContent = key ? say(key, values) : "";
}

/** Tells what to do where the player wants to go on without recording. */
export function onWithout(act) {
  playWithout = act;
}

/** Says what stands in the way; with a microphone's trouble, `offers` to play without it. */
export function trouble(key, values, { offers = true } = {}) {
  const place = element("trouble");
  place.replaceChildren();
  place.hidden = !key;
  if (!key) return;
  const words = document.createElement("p");
  words.textContent = say(key, values);
  place.append(words);
  if (offers && key.startsWith("mic_")) place.append(withoutButton());
}

function withoutButton() {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "second";
  made.textContent = say("without");
  made.addEventListener("click", () => playWithout());
  return made;
}

/** Fills the day's bar up with what was just played. */
export async function fillBar({ week, day }) {
  const bar = document.querySelector(".bar");
  if (!bar || !day) return;
  const { items } = await getJson(`/stand/today.json?week=${week}&day=${day}`);
  items.forEach(({ played_s, seconds, done }, i) => {
    bar.children[i].firstElementChild.style.width = `${done ? 100 : Math.min(100, (100 * played_s) / seconds)}%`;
  });
  bar.setAttribute("aria-label", say("played", { done: items.filter((item) => item.done).length, of: items.length }));
}
