// The practice on the stand: one button starts and stops; the rest follows.

import { Click } from "./click.js";
import { dropTake, lasting } from "./keep.js";
import { Trouble, holdMicrophone } from "./recorder.js";
import { Meter, SILENCE } from "./stand-meter.js";
import { Settings } from "./stand-settings.js";
import { pause, say } from "./stand-page.js";
import { showWhenHeard } from "./stand-result.js";
import { fillBar, onWithout, status, trouble } from "./stand-said.js";
import { deliver } from "./stand-send.js";
import { Sticks } from "./stand-sticks.js";
import { TakeInHand } from "./stand-take-in-hand.js";

const LEAD_S = 0.25; // from the last preparation to the first click
const TAIL_S = 0.7; // after the last written note
const LEAST_S = 2, CLIPPED = 0.9999; // of full scale
const PATIENCE_MS = 20_000;

const element = (id) => document.getElementById(id);
const practice = element("practice");
const facts = JSON.parse(practice.dataset.practice);
const svgs = [...practice.querySelectorAll("svg.rows")];
const sticks = new Sticks(facts, svgs);
let state = "idle"; // "opening", "running", "ending"
let context = null, click = null, take = null, meter = null, awake = null;
let recording = facts.may_record;
let endTimer = null, letGo = () => {};

const settings = new Settings(facts, {
  volume: (volume) => click && (click.volume = volume),
  context: audioContext,
  idle: () => state === "idle",
  changed: label,
});

/** Lets the buttons say what they do, and the line above them what becomes of the recording. */
function label() {
  const silent = settings.place === "off";
  const start = !facts.may_record ? "start_click" : silent ? "start_silent" : "start";
  const stopping = { opening: "opening", ending: "stopped", running: take ? "stop_send" : "stop" };
  element("go").textContent = say(stopping[state] ?? start);
  element("without").hidden = state !== "idle" || !facts.may_record || silent;
  element("discard").hidden = !(state === "running" && take);
  const again = element("result").hidden ? "told" : "told_again";
  const told = { idle: facts.may_record ? again : "told_click", running: take ? "told_running" : null };
  element("told").textContent = told[state] ? say(told[state]) : "";
  document.body.classList.toggle("running", state !== "idle");
}

function audioContext() {
  context ??= new AudioContext({ latencyHint: "interactive" });
  context.onstatechange = () => {
    if (context.state !== "running" && state === "running") interrupted();
  };
  return context;
}

async function start() {
  if (state !== "idle") return;
  state = "opening";
  label();
  trouble(null);
  showMusic();
  try {
    await audioContext().resume();
    if (facts.may_record && recording) await openTake();
    run();
  } catch (error) {
    await giveUp();
    trouble(error instanceof Trouble ? error.kind : "mic_other", { reason: error.message });
  }
  recording = facts.may_record;
  label();
}

/** Opens the microphone, unless another page of ours records just now. */
async function openTake() {
  status("opening");
  letGo = await holdMicrophone();
  const level = (peak, count) => {
    if (take !== made) return;
    meter ??= new Meter(context.sampleRate, (facts.beats * 60) / settings.bpm);
    meter.push(peak, count);
  };
  const made = new TakeInHand(context, { heard, level, ended: interrupted });
  take = made;
  await made.open(facts.title, { ...facts.sent, tempo: settings.tempo, click: settings.place, ...settings.device });
  if (!lasting) trouble("memory_only");
}

/** Lays the click and lets everything begin. */
function run() {
  state = "running";
  const beatS = 60 / settings.bpm, place = settings.place, at = context.currentTime + LEAD_S;
  const counted = place === "off" ? 0 : facts.count_in;
  const firstAt = at + counted * beatS;
  const whole = facts.repetitions === null ? Infinity : facts.repetitions * facts.beats;
  const beats = { off: 0, "count-in": counted }[place] ?? counted + Math.ceil(whole - 1e-9);
  click = new Click(context, settings.volume);
  const first = (k) => facts.accented && (k < counted ? k : k - counted) % facts.bar === 0;
  if (beats) click.start(at, beatS, beats, (k) => (first(k) ? "first" : "beat"));
  sticks.clear(beatS);
  if (take) listen({ at, beatS, firstAt: counted ? firstAt : null, beats, place });
  if (whole < Infinity && place !== "off") {
    const lasts = firstAt + whole * beatS + TAIL_S + settings.laterS - context.currentTime;
    endTimer = setTimeout(() => stop(), 1000 * lasts);
  }
  stayAwake();
  status(!take ? "clicking" : counted ? "counting" : "playing_free", { n: 1 });
  if (counted && take) setTimeout(() => state === "running" && progress(), 1000 * (firstAt - context.currentTime));
}

function listen({ at, beatS, firstAt, beats, place }) {
  const inRoom = place === "room" || place === "count-in";
  take.begin({
    firstAt,
    clicks: inRoom ? { at, beatS, count: Math.min(beats, 4000) } : null,
    latencyMs: settings.latencyMs,
    asked: { exercise: facts.exercise, tempo: settings.tempo },
  });
  meter?.due(firstAt === null ? 0 : take.recorder.secondsAt(firstAt));
  const unknown = place === "headphones" && settings.latencyMs === null;
  element("live-note").hidden = false;
  element("live-note").textContent = say("live_caption") + (unknown ? ` ${say("offset_note")}` : "");
}

function heard(hits) {
  const before = sticks.repetition;
  hits.forEach((hit) => sticks.add(hit));
  if (state === "running" && sticks.repetition !== before) progress(); // marks may come after the end
}

/** Says how often it was played; seen, but not read aloud each time. */
function progress() {
  const n = Math.max(1, sticks.repetition);
  element("status").setAttribute("aria-live", n > 1 ? "off" : "polite");
  status(facts.repetitions ? "playing" : "playing_free", { n, of: facts.repetitions });
}

/** Stops; what was recorded is sent, or, told so, thrown away. */
async function stop({ send = true } = {}) {
  if (state !== "running") return;
  state = "ending";
  clearTimeout(endTimer);
  click?.stop();
  element("status").setAttribute("aria-live", "polite");
  const ended = take;
  take = null;
  label();
  const kept = ended && send ? await ended.end() : null;
  if (ended && !send) await ended.discard();
  rest();
  status(send ? "stopped" : "discarded");
  label();
  if (kept) await handOver(kept);
}

/** Lets go of the microphone, the lock and the screen. */
function rest() {
  state = "idle";
  meter?.end();
  meter = null;
  letGo();
  letGo = () => {};
  awake?.release?.().catch(() => {});
  awake = null;
}

async function giveUp() {
  const opened = take;
  take = null;
  click?.stop();
  if (opened?.recorder) await opened.recorder.stop().catch(() => {});
  if (opened?.take) await dropTake(opened.take.key);
  rest();
  status(null);
}

async function interrupted() {
  if (state !== "running") return;
  await stop();
  trouble("interrupted");
}

async function stayAwake() {
  awake = await navigator.wakeLock?.request("screen").catch(() => null);
}

/** Sends a take, waits for what was heard, and shows it. */
async function handOver(kept) {
  if (kept.samples < LEAST_S * kept.rate || kept.peak < SILENCE) {
    await dropTake(kept.key);
    status(kept.peak < SILENCE ? "silent" : "short");
    return;
  }
  if (kept.peak >= CLIPPED) trouble("clipped");
  status("sending");
  try {
    const id = await deliver(kept.key, (key) => mine() && status(key));
    if (mine()) status("hearing");
    const end = await showWhenHeard(id, element("result"), PATIENCE_MS);
    if (mine()) shown(end);
  } catch (error) {
    if (error.status === 401) trouble("kept_session");
    else trouble("kept_refused", { reason: error.message });
    status(null);
  }

  function mine() {
    return state === "idle";
  }
}

function shown(end) {
  element("onward").hidden = false;
  fillBar(facts.sent).catch(() => {});
  status(end === "waiting" ? "waiting" : end === "heard" ? "heard" : null);
  if (end !== "waiting") {
    element("music").hidden = element("live-note").hidden = true;
    element("rest")?.removeAttribute("hidden");
    element("result").focus({ preventScroll: true });
  }
  label();
}

function showMusic() {
  element("music").hidden = false;
  element("result").hidden = true;
  element("result").replaceChildren();
  element("rest")?.setAttribute("hidden", "");
  svgs.forEach((svg) => svg.removeAttribute("hidden"));
}

const toggle = () => (state === "running" ? stop() : start());

document.addEventListener("keydown", (event) => {
  if (event.code !== "Space" || event.ctrlKey || event.metaKey || event.altKey) return;
  const busy = event.target.closest("input:not([type=radio], [type=range]), textarea, select, audio");
  const other = event.target.closest("button, summary, a, input, [tabindex='0']");
  if (busy || (other && other !== element("go") && state === "idle")) return;
  event.preventDefault();
  if (!event.repeat) toggle();
});
document.addEventListener("keyup", (event) => {
  if (event.code === "Space" && event.target === element("go")) event.preventDefault();
});
window.addEventListener("beforeunload", (event) => {
  if (state === "running" && take) event.preventDefault();
});

function withoutRecording() {
  recording = false;
  start();
}

onWithout(withoutRecording);
element("without").addEventListener("click", withoutRecording);
element("discard").addEventListener("click", () => stop({ send: false }));
element("upload")?.querySelector("form").addEventListener("submit", () => {
  element("upload-said").textContent = say("upload_sending");
});
element("go").addEventListener("click", toggle);
element("acts").hidden = element("controls").hidden = false;
if (!window.isSecureContext && facts.may_record) trouble("mic_insecure");
label();
pause(0).then(() => practice.setAttribute("data-ready", ""));
