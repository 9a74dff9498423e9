// A lesson's bar under the thumb: takes heard in order, the click and its tempo, a take recorded now.

import { Hearing } from "./lesson-hear.js";
import { Plan } from "./lesson-plan.js";
import { Trouble, holdMicrophone, openMicrophone, processingOf, shut } from "./recorder.js";
import { letSleep, stayAwake } from "./stand-awake.js";
import { Go } from "./stand-go.js";
import { refused, worthSending } from "./stand-hand-over.js";
import { say } from "./stand-page.js";
import { status, trouble } from "./stand-said.js";
import { deliver } from "./stand-send.js";
import { Settings } from "./stand-settings.js";

const TAPS = 6, FEWEST_TAPS = 3, LONGEST_MS = 2500; // of one tempo that is tapped; a longer wait begins anew

const element = (id) => document.getElementById(id);
const practice = element("practice");
const free = JSON.parse(practice.dataset.practice);
let facts = free;
let state = "idle"; // "clicking", "opening", "recording"
let context = null, go = null, stream = null;
let letGo = () => {};
let taps = [];
let again = 0;

for (const button of practice.querySelectorAll("button")) button.disabled = false; // what is pressed before would be lost
const settings = new Settings(facts, {
  volume: (volume) => go?.click && (go.click.volume = volume),
  context: audioContext,
  idle: () => state === "idle" || state === "clicking",
  changed: turned,
});
const hearing = new Hearing(element("sound"), { chosen: put, begins });
const plan = new Plan(element("next-week"), { tries: (item, name) => put(item, name).then(() => facts.drops || clickOn()), tempo: () => [facts, settings.bpm] });

/** A take is to be heard: not while one is recorded, and not over the click. */
function begins() {
  if (state === "recording" || state === "opening") return false;
  silence();
  return true;
}

function audioContext() {
  context ??= new AudioContext({ latencyHint: "interactive" });
  context.onstatechange = () => {
    if (context.state !== "running" && state === "recording") go.finish("interrupted");
  };
  return context;
}

/** Puts an exercise into the bar: its click, its tempo, and what a recording is of. */
async function put(item, name) {
  element("on-now").textContent = name;
  if (!item || state === "recording" || state === "opening") return;
  facts = { ...free, ...item };
  practice.dataset.practice = JSON.stringify(facts);
  settings.turnTo(facts);
  await turned();
}

/** The tempo, or what sounds, is another now. */
async function turned() {
  plan.compare();
  if (state === "clicking") await lay();
}

async function lay() {
  const before = go;
  go = new Go(audioContext(), facts, settings, null, {});
  await before?.end({ send: false });
  await go.begin();
}

async function clickOn() {
  if (state !== "idle") return;
  hearing.pause();
  state = "clicking";
  stayAwake();
  label();
  await audioContext().resume();
  await lay();
}

async function silence() {
  if (state !== "clicking") return;
  state = "idle";
  label();
  const before = go;
  go = null;
  await before?.end({ send: false });
}

/** Takes the tempo from taps in time; the click follows when the tapping is over. */
function tap({ timeStamp }) {
  if (timeStamp - (taps.at(-1) ?? 0) > LONGEST_MS) taps = [];
  taps = [...taps, timeStamp].slice(-TAPS);
  if (taps.length < FEWEST_TAPS || state === "recording") return;
  const beatMs = (taps.at(-1) - taps[0]) / (taps.length - 1);
  settings.set(Math.round(60_000 / beatMs));
  clearTimeout(again);
  again = setTimeout(turned, 1.5 * beatMs);
}

async function record() {
  if (state === "recording") return go.finish("stopped");
  if (state === "opening") return;
  await silence();
  hearing.pause();
  trouble(null);
  state = "opening";
  stayAwake();
  label();
  const kept = await recorded();
  state = "idle";
  shut(stream);
  stream = null;
  letGo();
  letGo = () => {};
  go = null;
  label();
  if (kept) await send(kept);
}

/** Records until it is stopped; returns what is kept, null where nothing is. */
async function recorded() {
  try {
    await audioContext().resume();
    letGo = await holdMicrophone();
    stream = await openMicrophone();
    if (processingOf(stream)) trouble("processed");
    const made = new Go(context, facts, settings, stream, { hits() {}, interrupted: () => made.finish("interrupted") });
    go = made;
    await go.begin();
    state = "recording";
    label();
    const how = await go.over;
    if (how === "interrupted") trouble("interrupted");
    status(how === "discarded" ? "discarded" : null);
    return await go.end({ send: how !== "discarded" });
  } catch (error) {
    await go?.giveUp();
    const kind = error instanceof Trouble ? error.kind : "mic_other";
    trouble(kind === "mic_insecure" ? "lesson_insecure" : kind, { reason: error.message }, { offers: false });
    return null;
  }
}

async function send(kept) {
  if (!(await worthSending(kept, status))) return;
  status("sending");
  try {
    await deliver(kept.key, status);
    status("lesson_waits");
    window.htmx.trigger(document.body, "came");
  } catch (error) {
    refused(error);
    status(null);
  }
}

function label() {
  if (state === "idle") letSleep();
  element("click").textContent = say(state === "clicking" ? "lesson_silence" : "lesson_click");
  element("click").setAttribute("aria-pressed", String(state === "clicking"));
  const record = element("record");
  if (!record) return;
  record.textContent = say({ opening: "opening", recording: "lesson_keep" }[state] ?? "lesson_record");
  element("discard").hidden = state !== "recording";
}

element("click").addEventListener("click", () => (state === "clicking" ? silence() : clickOn()));
element("tap").addEventListener("click", tap);
element("record")?.addEventListener("click", record);
element("discard")?.addEventListener("click", () => {
  go?.finish("discarded");
  element("record").focus();
});
document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
  if (event.target.closest("input, textarea, select, audio, button, a, summary, [tabindex='0']")) return;
  const keys = state === "recording" ? { Space: "record" } : { Space: "hear-all", ArrowRight: "hear-next" };
  const id = keys[event.code];
  if (!id) return;
  event.preventDefault();
  element(id).click();
});
window.addEventListener("beforeunload", (event) => {
  if (state === "recording") event.preventDefault();
});
plan.compare();
practice.setAttribute("data-ready", "");
