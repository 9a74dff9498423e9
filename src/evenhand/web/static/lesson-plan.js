// Next week in a lesson: an exercise's tempo goes up and down on all its days at once; the server adds it up.

import { stepped } from "./stand-settings.js";

const element = (id) => document.getElementById(id);

export class Plan {
  /** `told` are the page's: tries(facts, name), tempo() gives the bar's [facts, bpm]. */
  constructor(section, told) {
    this.section = section;
    this.told = told;
    section.addEventListener("click", ({ target }) => this.act(target.closest("[data-act]")));
    document.body.addEventListener("htmx:afterSwap", () => this.compare());
  }

  act(button) {
    const item = button?.closest(".exercise");
    if (!item) return;
    const [, bpm] = this.told.tempo();
    if (button.dataset.act === "try") this.told.tries(this.facts(item), item.dataset.name);
    else if (button.dataset.act === "as-clicked") this.turn(item, () => bpm);
    else this.turn(item, (each) => stepped(each, button.dataset.act === "faster"));
  }

  /** What the bar needs of an exercise, at its slowest tempo as it is now. */
  facts(item) {
    return { ...JSON.parse(item.dataset.bar), bpm: this.tempos(item)[0].bpm };
  }

  fields(item) {
    return item.dataset.rows.split(" ").map((at) => element(`typed-${at}`).querySelector("[name=row_tempo]"));
  }

  tempos(item) {
    const read = this.fields(item).map(({ value }) => value.split("="));
    return read.map(([beat, bpm]) => ({ beat: beat.trim(), bpm: Number(bpm) })).sort((a, b) => a.bpm - b.bpm);
  }

  /** Gives all the rows of an exercise another tempo, each in its own beat. */
  turn(item, next) {
    const { slowest, fastest } = item.dataset.bar ? JSON.parse(item.dataset.bar) : { slowest: 5, fastest: 1000 };
    for (const field of this.fields(item)) {
      const [beat, bpm] = field.value.split("=");
      field.value = `${beat.trim()} = ${Math.min(fastest, Math.max(slowest, next(Number(bpm))))}`;
    }
    const all = this.tempos(item), [low, high] = [all[0], all.at(-1)].map(({ beat, bpm }) => `${beat} = ${bpm}`);
    item.querySelector(".pace").textContent = low === high ? low : `${low} to ${high}`;
    element("week-form").dispatchEvent(new Event("input"));
    this.compare();
  }

  /** Offers the bar's tempo to the exercise that it clicks, where it is another. */
  compare() {
    const [{ exercise, beat }, bpm] = this.told.tempo();
    for (const button of this.section.querySelectorAll("button.scripted")) button.disabled = false;
    for (const item of this.section.querySelectorAll(".exercise[data-bar]")) {
      const all = this.tempos(item), here = JSON.parse(item.dataset.bar).exercise === exercise && all[0].beat === beat;
      const offer = item.querySelector("[data-act=as-clicked]");
      offer.hidden = !here || all.every((each) => each.bpm === bpm);
      offer.querySelector(".clicked").textContent = `${beat} = ${bpm}`;
    }
    const there = [...this.section.querySelectorAll(".exercise[data-bar]")].map((item) => JSON.parse(item.dataset.bar).exercise);
    for (const button of document.querySelectorAll("[data-put]")) button.hidden = !there.length || there.includes(button.dataset.put);
  }
}
