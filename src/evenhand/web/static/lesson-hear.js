// Takes heard one after another: one button plays the week in order, each take's own button plays it alone.

import { say } from "./stand-page.js";

const BETWEEN_MS = 700;

const element = (id) => document.getElementById(id);

/** Notes that the teacher heard a take to its end. */
function noteHeard(take) {
  if (!take) return;
  const headers = { "X-Evenhand-Csrf": document.body.dataset.csrf };
  fetch("/hear/listened", { method: "POST", headers, body: new URLSearchParams({ take }), redirect: "manual" }).catch(() => {});
}

export class Hearing {
  /** `told` are the page's: chosen(facts, name), begins(), which says whether a take may sound. */
  constructor(audio, told) {
    Object.assign(this, { audio, told, id: "", onward: false, ticked: [], known: null });
    audio.addEventListener("play", () => this.show());
    audio.addEventListener("pause", () => this.show());
    audio.addEventListener("ended", () => this.ended());
    element("hear-all").addEventListener("click", () => this.all());
    element("hear-next").addEventListener("click", () => this.next());
    document.addEventListener("click", ({ target }) => {
      const item = target.closest("[data-act=hear]")?.closest("[data-sound]");
      if (item) this.alone(item);
    });
    document.body.addEventListener("htmx:beforeSwap", ({ detail }) => detail.target.id === "takes" && this.leave());
    document.body.addEventListener("htmx:afterSwap", () => this.comeBack());
    this.known = this.statuses();
    this.show();
  }

  /** The takes to hear: the week's in their order, then those of the lesson. */
  get takes() {
    const of = (lists) => [...document.querySelectorAll(`#takes ${lists} > [data-sound]:not([data-status=failed])`)];
    return [...of(".hearing:not([data-lesson])"), ...of(".hearing[data-lesson]")];
  }

  get sounds() {
    return this.id !== "" && !this.audio.paused;
  }

  /** The one button: begins with the first, stops, and goes on. */
  all() {
    if (this.sounds) return this.pause();
    this.onward = true;
    if (this.id && this.audio.currentTime > 0 && !this.audio.ended) this.sound();
    else this.play(this.takes[0]);
  }

  next() {
    this.onward = true;
    const takes = this.takes, at = takes.findIndex((take) => take.id === this.id);
    this.play(takes[(at + 1) % takes.length]);
  }

  alone(item) {
    if (this.sounds && item.id === this.id) return this.pause();
    this.onward = false;
    this.play(item);
  }

  play(item) {
    if (!item) return;
    clearTimeout(this.wait);
    this.id = item.id;
    this.audio.src = item.dataset.sound;
    const found = item.querySelector(".finding")?.textContent ?? "";
    this.told.chosen(item.dataset.bar && JSON.parse(item.dataset.bar), `${item.dataset.name}: ${found}`);
    this.sound();
    item.scrollIntoView({ block: "nearest" });
  }

  sound() {
    if (!this.told.begins()) return;
    this.audio.play().catch(() => this.show()); // stopped before it began, or not allowed: the buttons show it
  }

  pause() {
    clearTimeout(this.wait);
    this.audio.pause();
  }

  ended() {
    noteHeard(element(this.id)?.dataset.take);
    const takes = this.takes, at = takes.findIndex((take) => take.id === this.id);
    const next = this.onward && at >= 0 ? takes[at + 1] : null;
    if (next) this.wait = setTimeout(() => this.play(next), BETWEEN_MS);
    else this.show();
  }

  show() {
    const going = this.sounds, midway = this.id !== "" && this.audio.currentTime > 0 && !this.audio.ended;
    element("hear-all").textContent = say(going ? "lesson_pause" : midway ? "lesson_go_on" : "lesson_hear");
    element("hear-all").disabled = element("hear-next").disabled = this.takes.length === 0;
    for (const button of document.querySelectorAll("[data-act=hear]")) {
      const item = button.closest("[data-sound]");
      button.disabled = !item;
      button.setAttribute("aria-pressed", String(going && item?.id === this.id));
      item?.classList.toggle("chosen", item.id === this.id);
    }
  }

  statuses() {
    return new Map([...document.querySelectorAll("#takes .take")].map((take) => [take.id, take.dataset.status]));
  }

  leave() {
    this.ticked = [...document.querySelectorAll("#takes [name=beside]:checked")].map((box) => box.value);
  }

  /** The list may be another: what was ticked is ticked, and what came is said. */
  comeBack() {
    for (const box of document.querySelectorAll("#takes [name=beside]")) box.checked ||= this.ticked.includes(box.value);
    for (const [id, status] of this.statuses()) {
      if (this.known.get(id) === status || status !== "heard") continue;
      const item = element(id), found = item.querySelector(".finding")?.textContent ?? "";
      element("status").textContent = say("lesson_came", { name: item.dataset.name, found });
    }
    this.known = this.statuses();
    this.show();
  }
}
