// One take from the first sample to the last: recorded, kept as it grows, shown live.

import { dropTake, keepChunk, keepTake } from "./keep.js";
import { Live } from "./live.js";
import { Recorder, processingOf } from "./recorder.js";
import { film } from "./stand-camera.js";
import { hearsLive, student } from "./stand-page.js";
import { peakOf } from "./stand-wav.js";

const CHUNK_S = 1;
const GUESSED_INPUT_S = 0.02; // where the delay was not measured, what lies behind the context's own figures

function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(18));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

export class TakeInHand {
  /** `heard(hits)` gets the live ear's hits, `marks(key)` what is to be said of them, `level(peak, count)` each block's; `ended()` when there are no more. */
  constructor(context, { heard, marks, level, ended }) {
    this.context = context;
    Object.assign(this, { heard, marks });
    this.level = level;
    this.ended = ended;
    this.buffer = [];
    this.buffered = 0;
    this.chunks = 0;
    this.saving = Promise.resolve();
    this.live = null;
    this.early = [];
  }

  /** Begins to record from an open microphone, which stays open after the take. */
  async open(stream, title, sent) {
    const rate = this.context.sampleRate;
    this.take = { key: newKey(), student, title, state: "recording", touched: Date.now(), rate, samples: 0, peak: 0 };
    this.take.sent = { ...sent, recorded_at: new Date().toISOString(), rate: String(rate) };
    const processed = processingOf(stream);
    if (processed) this.take.sent.processed = processed;
    this.recorder = new Recorder(this.context, stream, (samples) => this.grow(samples), () => this.ended());
    await this.recorder.start();
    this.film = film(() => this.recorder.secondsAt(this.context.currentTime));
  }

  grow(samples) {
    const peak = peakOf(samples);
    this.take.peak = Math.max(this.take.peak, peak);
    this.take.samples += samples.length;
    this.level(peak, samples.length);
    if (this.live) this.live.push(samples);
    else if (this.early) this.early.push(samples);
    this.buffer.push(samples);
    this.buffered += samples.length;
    if (this.buffered >= CHUNK_S * this.take.rate) this.keep();
  }

  /** Puts what has gathered into the browser's store. */
  keep() {
    const whole = new Float32Array(this.buffered);
    let at = 0;
    for (const samples of this.buffer) {
      whole.set(samples, at);
      at += samples.length;
    }
    this.buffer = [];
    this.buffered = 0;
    this.take.touched = Date.now();
    const n = this.chunks++, facts = structuredClone(this.take);
    this.saving = this.saving.then(() => keepChunk(facts, n, whole));
  }

  /** Says when the first note is due and which clicks sound in the room; opens the live ear. */
  begin({ firstAt, clicks, latencyMs, asked }) {
    const { baseLatency = 0, outputLatency = 0 } = this.context;
    const laterS = latencyMs === null ? baseLatency + outputLatency + GUESSED_INPUT_S : latencyMs / 1000;
    const place = (at) => Math.max(0, this.recorder.secondsAt(at));
    const begin = { rate: this.take.rate, ...asked };
    if (firstAt !== null) {
      this.take.sent.first_note_s = place(firstAt).toFixed(6);
      begin.first_note_s = place(firstAt) + laterS;
    }
    if (clicks) {
      const { at, beatS: beat_s, count, counted, pattern } = clicks;
      begin.clicks = { first_s: place(at) + laterS, beat_s, count, counted, pattern };
    }
    if (hearsLive) this.live = new Live(begin, this.heard, this.marks);
    for (const samples of this.early) this.live?.push(samples);
    this.early = null;
  }

  get seconds() {
    return this.take.samples / this.take.rate;
  }

  /** Ends the take, and forgets it: nothing of it is kept or sent. */
  async discard() {
    await this.recorder.stop();
    await this.film?.stop();
    this.live?.end();
    await this.saving;
    await dropTake(this.take.key);
  }

  /** Ends the take; what was recorded is kept from now on until it is dropped. */
  async end() {
    await this.recorder.stop();
    const filmed = await this.film?.stop();
    this.live?.end();
    if (this.buffered) this.keep();
    await this.saving;
    this.take.state = "ended";
    this.take.sent.seconds = this.seconds.toFixed(3);
    if (filmed) {
      this.take.film = filmed.film;
      Object.assign(this.take.sent, filmed.sent);
    }
    await keepTake(structuredClone(this.take));
    return this.take;
  }
}
