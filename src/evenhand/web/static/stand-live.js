// What is drawn while it is played, sticks under their notes or drops as they fall, and the line that counts along.

import { Drops, dropsWords } from "./stand-drops.js";
import { say } from "./stand-page.js";
import { status } from "./stand-said.js";
import { Sticks } from "./stand-sticks.js";

const QUIET_MS = 3000; // after the last bounce of the last drop
const SEEN_MS = 3000; // by then it is known whether the live ear is there

const element = (id) => document.getElementById(id);

export class LivePicture {
  /** `grip` is the page's choice of a grip, there where drops are played. */
  constructor(practice, grip) {
    Object.assign(this, { practice, grip, drawn: null, go: null, quiet: null });
  }

  /** Lets the page look as an item needs it: drops have a grip, and no click. */
  dress(facts) {
    this.practice.toggleAttribute("data-drops", Boolean(facts.drops));
    this.grip.show(facts);
  }

  show(facts) {
    this.facts = facts;
    this.dress(facts);
    this.drawn = new (facts.drops ? Drops : Sticks)(facts, [...this.practice.querySelectorAll("svg.rows")]);
  }

  /** A go has begun. */
  begin(go, settings) {
    this.go = go;
    this.drawn.clear(go.beatS);
    const unknown = settings.place === "headphones" && settings.latencyMs === null;
    element("live-note").hidden = !go.records;
    this.note = unknown ? ` ${say("offset_note")}` : "";
    this.marks("live_caption");
    if (this.facts.drops) {
      setTimeout(() => this.runs(go) && this.progress(), SEEN_MS);
      return this.progress();
    }
    status(!go.records ? "clicking" : go.counted ? "counting" : "playing_free", { n: 1 });
    if (go.counted && go.records) setTimeout(() => this.runs(go) && this.progress(), go.untilFirstMs);
  }

  /** Says what the marks are, or that they come late or not at all. */
  marks(key) {
    const drops = this.facts.drops && key === "live_caption";
    element("live-note").textContent = say(drops ? "drops_caption" : key) + (key === "live_caption" ? this.note : "");
  }

  runs(go) {
    return this.go === go && go.state === "running";
  }

  hits(hits) {
    const before = this.drawn.repetition;
    hits.forEach((hit) => this.drawn.add(hit));
    if (!this.runs(this.go)) return; // marks may come after the end
    if (this.drawn.repetition !== before) this.progress();
    if (this.facts.drops) this.endWhenStill(this.go);
  }

  /** Ends a go once its last drop lies still. */
  endWhenStill(go) {
    clearTimeout(this.quiet);
    if (this.drawn.repetition < this.drawn.wanted) return;
    this.quiet = setTimeout(() => this.runs(go) && go.finish("over"), QUIET_MS);
  }

  /** Without the live ear nothing is drawn, and the go does not end by itself. */
  dropsSaid() {
    if (!this.go.records) return say("told_click");
    return this.go.take.live?.socket ? dropsWords(this.drawn) : say("dropping_alone");
  }

  /** Says how often it was played; seen, but not read aloud each time. */
  progress() {
    const n = Math.max(1, this.drawn.repetition), { drops, repetitions } = this.facts;
    element("status").setAttribute("aria-live", n > 1 ? "off" : "polite");
    if (drops) element("status").textContent = this.dropsSaid();
    else status(repetitions ? "playing" : "playing_free", { n, of: repetitions });
  }
}
