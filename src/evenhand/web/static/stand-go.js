// One go at an exercise: the click is laid, what is played is recorded, and it ends by itself.

import { Click } from "./click.js";
import { clicksOf } from "./click-pattern.js";
import { dropTake } from "./keep.js";
import { Meter } from "./stand-meter.js";
import { TakeInHand } from "./stand-take-in-hand.js";

const LEAD_S = 0.25; // from the last preparation to the first click
const TAIL_S = 0.7; // after the last written note

export class Go {
  /** `stream` is the open microphone, null to record nothing; `told` are the page's: hits(hits), marks(key), interrupted(). */
  constructor(context, facts, settings, stream, told) {
    Object.assign(this, { context, facts, settings, stream, told });
    this.take = this.meter = this.click = this.timer = null;
    this.over = new Promise((done) => (this.finish = done));
    this.state = "opening"; // "running", "ended"
    this.counted = settings.place === "off" ? 0 : facts.count_in;
    this.beatS = 60 / settings.bpm;
    this.pattern = settings.pattern;
  }

  /** Tells whether what is played is recorded. */
  get records() {
    return this.take !== null;
  }

  /** Gets ready to record, and lets everything begin. */
  async begin() {
    if (this.stream) await this.open();
    if (this.state === "opening") this.run();
  }

  async open() {
    const { facts, settings } = this;
    const level = (peak, count) => {
      if (this.state === "ended") return;
      this.meter ??= new Meter(this.context.sampleRate, facts.beats * this.beatS);
      this.meter.push(peak, count);
    };
    const { hits: heard, marks, interrupted: ended } = this.told;
    const made = new TakeInHand(this.context, { heard, marks, level, ended });
    this.take = made;
    await made.open(this.stream, facts.title, {
      ...facts.sent,
      tempo: settings.tempo,
      click: settings.place,
      pattern: this.pattern,
      ...settings.device,
    });
  }

  /** Lays the click. */
  run() {
    this.state = "running";
    const { context, facts, settings, beatS, counted } = this;
    const place = settings.place, at = context.currentTime + LEAD_S;
    this.firstAt = at + counted * beatS;
    const whole = facts.repetitions === null ? Infinity : facts.repetitions * facts.beats;
    const beats = { off: 0, "count-in": counted }[place] ?? counted + whole;
    this.click = new Click(context, settings.volume);
    const [over, under] = facts.beat.split("/"), how = { ...facts, counted: counted ? facts.counted : [], beat: over / under };
    if (beats) this.click.start(at, beatS, beats, clicksOf(this.pattern, how));
    if (this.take) this.listen(at, beats, place);
    if (whole < Infinity && place !== "off") {
      const lasts = this.firstAt + whole * beatS + TAIL_S + settings.laterS - context.currentTime;
      this.timer = setTimeout(() => this.finish("over"), 1000 * lasts);
    }
  }

  listen(at, beats, place) {
    const { facts, settings, beatS, counted } = this;
    const inRoom = place === "room" || place === "count-in";
    const firstAt = counted ? this.firstAt : null;
    this.take.begin({
      firstAt,
      clicks: inRoom ? { at, beatS, count: Math.min(beats, 4000), counted, pattern: this.pattern } : null,
      latencyMs: settings.latencyMs,
      asked: { exercise: facts.exercise, tempo: settings.tempo },
    });
    this.meter?.due(firstAt === null ? 0 : this.take.recorder.secondsAt(firstAt));
  }

  /** Milliseconds until the first note is due. */
  get untilFirstMs() {
    return 1000 * (this.firstAt - this.context.currentTime);
  }

  /** Share of its notes that were due by now, 0 to 1; 1 where it is played as long as one likes. */
  get share() {
    if (this.state === "opening" || this.facts.repetitions === null) return this.facts.repetitions === null ? 1 : 0;
    const lasts = this.facts.repetitions * this.facts.beats * this.beatS;
    return Math.min(1, Math.max(0, (this.context.currentTime - this.firstAt) / lasts));
  }

  /** Silences the click and stops recording; returns what is kept, or null where nothing was, or not to be, kept. */
  async end({ send }) {
    const ended = this.take;
    this.state = "ended";
    this.take = null;
    clearTimeout(this.timer);
    this.click?.stop();
    const kept = ended && send ? await ended.end() : null;
    if (ended && !send) await ended.discard();
    this.quiet();
    return kept;
  }

  /** Lets go of all of it after something went wrong. */
  async giveUp() {
    const opened = this.take;
    this.state = "ended";
    this.take = null;
    this.click?.stop();
    await opened?.film?.stop();
    if (opened?.recorder) await opened.recorder.stop().catch(() => {});
    if (opened?.take) await dropTake(opened.take.key);
    this.quiet();
  }

  quiet() {
    this.meter?.end();
    this.meter = null;
  }
}
