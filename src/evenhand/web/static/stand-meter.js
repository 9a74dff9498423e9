// What the microphone hears, seen while it records: rings on a drum pad, more of them the louder it is; and a
// word where it hears nothing. Time is counted in samples, so a busy page says it no later.

import { lengthWords, say } from "./stand-page.js";

export const SILENCE = 0.0016; // full scale, -56 dB: below that no stroke was played
const DEAD = 0.00001; // -100 dB: no room is so quiet, so the microphone is off
const SOON_S = 1.5; // after so long without a sound it is said
const RINGS_DB = [-54, -45, -36, -27, -18, -9]; // from the middle outwards
const FADE_DB_PER_S = 60, SOFT_DB = 9, FAINT = 0.15, MOST_STEP_S = 0.05;

const element = (id) => document.getElementById(id);

export class Meter {
  /** `gapS` is how long it may be quiet in the midst of playing. */
  constructor(rate, gapS) {
    this.rate = rate;
    this.gap = Math.max(2 * SOON_S, gapS) * rate;
    this.samples = this.lastAlive = this.lastSound = this.firstNote = 0;
    this.sounded = false;
    this.levelDb = -120;
    this.title = document.title;
    this.rings = [...element("on-air").querySelectorAll("ellipse.ring")];
    this.pushedAt = this.drawnAt = performance.now();
    element("on-air").hidden = false;
    document.body.classList.add("records");
    document.title = `${say("recording")} – ${this.title}`;
    this.frame = requestAnimationFrame((now) => this.draw(now));
  }

  /** Takes in a block of samples by its peak. */
  push(peak, count) {
    this.samples += count;
    this.pushedAt = performance.now();
    if (peak > DEAD) this.lastAlive = this.samples;
    if (peak >= SILENCE) {
      this.lastSound = this.samples;
      this.sounded = true;
    }
    this.levelDb = Math.max(this.levelDb, 20 * Math.log10(Math.max(peak, 1e-6)));
    this.tell();
  }

  /** Says from when on, in seconds of the recording, there should be strokes. */
  due(seconds) {
    this.firstNote = seconds * this.rate;
  }

  /** Returns a word of the catalogue: what the microphone hears, as far as it can be said. */
  get word() {
    const soon = SOON_S * this.rate;
    const stalled = performance.now() - this.pushedAt > 1000 * SOON_S;
    if (stalled || this.samples - this.lastAlive >= soon) return "hears_nothing";
    if (this.sounded) return this.samples - this.lastSound < this.gap ? "hears" : "hears_nothing";
    if (this.samples < soon) return "hears_wait";
    return this.samples < this.firstNote + soon ? "hears_nothing_yet" : "hears_nothing";
  }

  tell() {
    const word = this.word;
    if (element("hears").textContent !== say(word)) element("hears").textContent = say(word);
    element("on-air").classList.toggle("silent", word === "hears_nothing");
    const length = lengthWords(Math.floor(this.samples / this.rate));
    if (element("recorded-for").textContent !== length) element("recorded-for").textContent = length;
  }

  draw(now) {
    this.levelDb -= FADE_DB_PER_S * Math.min(MOST_STEP_S, (now - this.drawnAt) / 1000);
    this.drawnAt = now;
    this.rings.forEach((ring, k) => {
      const share = Math.min(1, Math.max(0, (this.levelDb - RINGS_DB[k]) / SOFT_DB));
      ring.setAttribute("stroke-opacity", (FAINT + (1 - FAINT) * share).toFixed(2));
    });
    this.tell();
    this.frame = requestAnimationFrame((then) => this.draw(then));
  }

  end() {
    cancelAnimationFrame(this.frame);
    document.title = this.title;
    document.body.classList.remove("records");
    element("on-air").hidden = true;
    element("hears").textContent = "";
  }
}
