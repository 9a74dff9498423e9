// The delay of this device: eight clicks from the loudspeaker into the microphone, found by their sound.
//
// Conventions: ms; the delay is from the moment a click is laid on the clock to its place in the recording,
// output and input together.

import { Click, voice } from "./click.js";
import { Recorder, openMicrophone, shut } from "./recorder.js";

const OPENINGS = 2, CLICKS = 4; // the delay may differ from one opening of the microphone to the next
const APART_S = 0.6, LEAD_S = 0.4, LATEST_S = 0.5;
const VOLUME = 75;
const ALIKE = 0.35; // normalised correlation from which it is the click that was heard
const NEAR_MS = 12, LEAST = 6;
const SOUND_S = 0.015; // of the click's sound that is looked for

/** Returns { latencyMs, spreadMs, heard }, latencyMs null where too few clicks were heard alike. */
export async function measureDelay(context) {
  const delays = [];
  for (let opening = 0; opening < OPENINGS; opening++) delays.push(...(await measureOnce(context)));
  return summed(delays);
}

async function measureOnce(context) {
  const chunks = [];
  const stream = await openMicrophone();
  const recorder = new Recorder(context, stream, (samples) => chunks.push(samples));
  const click = new Click(context, VOLUME);
  try {
    await recorder.start();
    const at = context.currentTime + LEAD_S;
    click.start(at, APART_S, CLICKS, () => [{ after: 0, kind: "first", gain: 1 }]);
    await new Promise((done) => setTimeout(done, 1000 * (LEAD_S + CLICKS * APART_S + LATEST_S)));
    const laid = Array.from({ length: CLICKS }, (_, k) => recorder.secondsAt(at + k * APART_S));
    return delaysOf(joined(chunks), context.sampleRate, laid);
  } finally {
    click.stop();
    await recorder.stop();
    shut(stream);
  }
}

/** Finds each click at most `LATEST_S` after it was laid, in ms; `laid` in seconds of the samples. */
export function delaysOf(samples, rate, laid) {
  const model = voice("first", rate).subarray(0, Math.round(SOUND_S * rate));
  const found = laid.map((at) => placeOf(samples, rate, model, at));
  return found.filter((each) => each.alike > ALIKE).map((each) => each.delayS * 1000);
}

/** Sums delays up: their middle, and half the range of those near it. */
export function summed(delays) {
  const latencyMs = median([...delays].sort((a, b) => a - b));
  const near = delays.filter((delay) => Math.abs(delay - latencyMs) < NEAR_MS);
  const sure = near.length >= LEAST && latencyMs >= 0;
  const spreadMs = (Math.max(...near) - Math.min(...near)) / 2;
  return { latencyMs: sure ? latencyMs : null, spreadMs, heard: near.length };
}

function placeOf(samples, rate, model, at) {
  const first = Math.max(0, Math.round(at * rate));
  const last = Math.min(samples.length - model.length - 1, first + Math.round(LATEST_S * rate));
  const size = Math.sqrt(energy(model, 0, model.length));
  let inside = energy(samples, first, model.length);
  let best = { sum: 0, place: first, alike: 0 };
  for (let place = first; place < last; place++) {
    const sum = product(samples, place, model);
    if (Math.abs(sum) > Math.abs(best.sum)) {
      best = { sum, place, alike: Math.abs(sum) / (size * Math.sqrt(Math.max(inside, 1e-12))) };
    }
    inside += samples[place + model.length] ** 2 - samples[place] ** 2;
  }
  const around = [-1, 0, 1].map((step) => Math.abs(product(samples, Math.max(0, best.place + step), model)));
  const bend = around[0] - 2 * around[1] + around[2];
  const between = bend < 0 ? (0.5 * (around[0] - around[2])) / bend : 0;
  return { delayS: (best.place + between) / rate - at, alike: best.alike };
}

function product(samples, place, model) {
  let sum = 0;
  for (let i = 0; i < model.length; i++) sum += samples[place + i] * model[i];
  return sum;
}

function energy(samples, from, length) {
  let sum = 0;
  for (let i = from; i < from + length; i++) sum += (samples[i] ?? 0) ** 2;
  return sum;
}

function joined(chunks) {
  const out = new Float32Array(chunks.reduce((sum, chunk) => sum + chunk.length, 0));
  let at = 0;
  for (const chunk of chunks) {
    out.set(chunk, at);
    at += chunk.length;
  }
  return out;
}

/** Returns the middle of rising values; NaN of none. */
function median(values) {
  const half = values.length >> 1;
  if (values.length === 0) return NaN;
  return values.length % 2 ? values[half] : (values[half - 1] + values[half]) / 2;
}
