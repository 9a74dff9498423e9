// Which grip the stick is dropped from, so that grips can be held against each other.

import { store, stored } from "./stand-settings.js";

const wholeDay = document.getElementById("practice")?.dataset.whole === "yes"; // there it is one line, to be opened

/** The grip that the drops are named by: typed, or one of those that are offered. */
export class Grip {
  constructor(place) {
    this.place = place;
    this.input = place.querySelector("input");
    this.input.value = stored("grip") ?? "";
    this.input.addEventListener("input", () => store("grip", this.input.value));
    for (const button of place.querySelectorAll("button")) {
      button.addEventListener("click", () => {
        this.input.value = button.textContent;
        store("grip", this.input.value);
        this.mark();
      });
    }
    this.input.addEventListener("input", () => this.mark());
    this.mark();
  }

  /** Stands there where drops are played. */
  show(facts) {
    this.place.hidden = !facts.drops;
    const guide = document.querySelector("#music .guide");
    if (!guide) return;
    guide.open = (stored("guide") ?? (wholeDay ? "closed" : "open")) === "open";
    guide.firstElementChild.onclick = () => store("guide", guide.open ? "closed" : "open"); // before it turns
  }

  mark() {
    for (const button of this.place.querySelectorAll("button")) {
      button.setAttribute("aria-pressed", button.textContent === this.input.value);
    }
  }

  /** What is sent with a take about it. */
  sent(facts) {
    const grip = this.input.value.trim();
    return facts.drops && grip ? { grip } : {};
  }
}
