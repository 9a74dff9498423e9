// The practice on the stand, one exercise or the whole day: one button starts, and the rest follows by itself.

import { keepsLastingly } from "./keep.js";
import { Trouble, holdMicrophone, openMicrophone, processingOf, shut } from "./recorder.js";
import { Place, Rest, tick } from "./stand-day.js";
import { showButtons } from "./stand-buttons.js";
import { Grip } from "./stand-grip.js";
import { bindKeys } from "./stand-keys.js";
import { letSleep, stayAwake } from "./stand-awake.js";
import { holdsOff, renew } from "./stand-newer.js";
import { Go } from "./stand-go.js";
import { LivePicture } from "./stand-live.js";
import { Settings } from "./stand-settings.js";
import { getText, pause, say } from "./stand-page.js";
import { PATIENCE_MS, sendAndShow, sendBehind } from "./stand-hand-over.js";
import { onWithout, status, trouble } from "./stand-said.js";
import { Voice } from "./stand-voice.js";

const ENOUGH = 0.75; // share of a go that counts as played
const TICKS = 4; // seconds of a rest that are heard
const LEAST_REST_S = 4, SKIPPED_S = 8; // to read what comes next
const NO_MICROPHONE = ["mic_refused", "mic_none", "mic_insecure"]; // a day goes on with the click alone

const element = (id) => document.getElementById(id);
const practice = element("practice");
const items = JSON.parse(practice.dataset.run);
const wholeDay = practice.dataset.whole === "yes";
let place = new Place(items);
let facts = items[0];
let state = "idle"; // "opening", "running", "ending", "resting", "held"
let context = null, stream = null, go = null;
let recording = facts.may_record;
let letGo = () => {};
let sendings = [];

const rest = new Rest((seconds) => {
  element("clock").textContent = seconds ?? "";
  element("clock").hidden = seconds === null;
  if (seconds !== null && seconds <= TICKS) tick(context);
});
const settings = new Settings(facts, {
  volume: (volume) => go?.click && (go.click.volume = volume),
  context: audioContext,
  idle: () => ["idle", "resting", "held"].includes(state),
  changed: label,
});
const grip = new Grip(element("grip"));
const picture = new LivePicture(practice, grip);
const voice = new Voice(element("speaks"), audioContext);

/** Lets the buttons say what they do, and the line above them what becomes of the recording. */
function label() {
  showButtons({
    state,
    wholeDay,
    begun: Boolean(practice.dataset.begun),
    mayRecord: facts.may_record,
    silent: settings.place === "off" && !(wholeDay && state === "idle" && facts.drops),
    records: state === "running" && go.records,
    open: stream !== null,
  });
}

function audioContext() {
  context ??= new AudioContext({ latencyHint: "interactive" });
  context.onstatechange = () => {
    if (context.state !== "running" && state === "running") go.finish("interrupted");
  };
  return context;
}

/** Puts an item on the stand: what it is, its music, its tempo. */
function show(item) {
  if (item === facts && picture.drawn) return;
  const template = element(`item-${item.number}`);
  if (template && item !== facts) {
    element("head").replaceChildren(template.content.querySelector(".head").cloneNode(true));
    const music = element(`music-${item.music}`).content.cloneNode(true);
    element("music").replaceChildren(music);
    settings.turnTo(item);
  }
  facts = item;
  practice.dataset.practice = JSON.stringify(item);
  if (state !== "idle") practice.scrollIntoView();
  picture.show(item);
}

async function begin() {
  if (state !== "idle") return;
  state = "opening";
  label();
  trouble(null);
  showMusic();
  let kept = null;
  try {
    await audioContext().resume();
    if (facts.may_record && recording) await microphone();
    stayAwake();
    kept = await playAll();
  } catch (error) {
    await go?.giveUp();
    status(null);
    trouble(error instanceof Trouble ? error.kind : "mic_other", { reason: error.message });
  }
  close();
  if (wholeDay && practice.dataset.begun) await summary();
  else if (kept) await sendAndShow(kept, () => state === "idle", shown);
  renew();
}

/** Opens the microphone, unless another page of ours records just now; a day goes on without one. */
async function microphone() {
  status("opening");
  letGo = await holdMicrophone();
  try {
    stream = await openMicrophone();
  } catch (error) {
    if (!wholeDay || !NO_MICROPHONE.includes(error.kind)) throw error;
    recording = false;
    trouble(error.kind, {}, { offers: false });
  }
  if (stream && !keepsLastingly()) trouble("memory_only");
  else if (stream && processingOf(stream)) trouble("processed");
}

/** Plays all there is to play; returns the last recording where one exercise was asked for, to be shown. */
async function playAll() {
  for (;;) {
    const { how, share, kept } = await playOnce();
    if (how === "interrupted") lost();
    const cut = how !== "over" && how !== "skip";
    if (cut && !wholeDay) return kept;
    const item = facts;
    const restS = how === "skip" ? (place.skip() ? SKIPPED_S : null) : cut && share < ENOUGH ? Infinity : place.onward();
    if (restS === null && !wholeDay) return kept;
    if (kept) sendings.push(sendBehind(kept, item, () => state !== "running"));
    if (restS === null || !(await restFor(cut ? Infinity : restS))) return null;
  }
}

/** Lets go of a microphone that something else took, such as a call; it is opened again for the next go. */
function lost() {
  trouble("interrupted");
  shut(stream);
}

/** Rests, or waits to be told; returns whether to go on. */
async function restFor(seconds) {
  const counts = seconds !== Infinity, same = place.item === facts;
  state = counts ? "resting" : "held";
  show(place.item);
  label();
  status(counts ? (same ? "resting_again" : "resting") : same ? "held" : "held_next", {
    s: Math.max(seconds, LEAST_REST_S),
    what: facts.title,
    n: place.go,
    of: facts.goes,
  });
  const choice = await voice.during(rest.wait(Math.max(seconds, LEAST_REST_S)), counts && !same && facts.said);
  if (choice === "again") place.back();
  return choice === "skip" ? place.skip() : choice !== "end";
}

/** Plays once from the count-in to the end. */
async function playOnce() {
  state = "opening";
  if (context.state !== "running") await context.resume();
  if (stream && !stream.active) stream = await openMicrophone();
  show(place.item);
  place.begun();
  label();
  const item = facts;
  const played = { ...item, sent: { ...item.sent, ...grip.sent(item) } };
  const made = new Go(context, played, settings, recording ? stream : null, {
    hits: (hits) => made === go && item === facts && picture.hits(hits), // some come after its end
    marks: (key) => picture.runs(made) && picture.marks(key),
    interrupted: () => made.finish("interrupted"),
  });
  go = made;
  await go.begin();
  practice.dataset.begun = "yes";
  state = "running";
  started();
  const how = await go.over;
  const share = go.share;
  state = "ending";
  label();
  const kept = await go.end({ send: how !== "discarded" });
  status(how === "discarded" ? "discarded" : "stopped");
  return { how, share, kept };
}

function started() {
  element("heard-line").textContent = "";
  label();
  picture.begin(go, settings);
  if (settings.place === "headphones" && settings.deviceId && settings.elsewhere) trouble("delay_changed");
}

/** Lets go of the microphone, the lock and the screen. */
function close() {
  state = "idle";
  shut(stream);
  stream = null;
  letGo();
  letGo = () => {};
  letSleep();
  recording = facts.may_record;
  label();
}

/** Shows what the day came to, once what was played has been heard. */
async function summary() {
  status(place.item ? "stopped" : "summing");
  const sent = await Promise.race([Promise.all(sendings), pause(PATIENCE_MS)]);
  const { week, day } = facts.sent;
  const part = await getText(`/stand/summary?week=${week}&day=${day}`).catch(() => null);
  if (state !== "idle") return; // it was begun again meanwhile
  element("heard-line").textContent = "";
  const over = sendings.length === 0 ? "day_over_click" : sent ? "day_over" : "day_waiting";
  status(part === null ? "no_summary" : place.item ? "day_left" : over);
  if (part === null) return;
  element("summary").innerHTML = part;
  element("summary").hidden = false;
  practice.hidden = place.item === null;
  element("summary").focus();
  label();
}

function shown(end) {
  element("onward").hidden = false;
  status(end === "waiting" ? "waiting" : end === "heard" ? "heard" : null);
  if (end !== "waiting") {
    element("music").hidden = element("live-note").hidden = true;
    element("rest")?.removeAttribute("hidden");
    element("result").focus({ preventScroll: true });
  }
  label();
}

/** Goes back to the music, where what was heard stood; a day goes on where it was left. */
function showMusic() {
  if (!wholeDay || !place.item) place = new Place(items);
  sendings = [];
  show(place.item);
  element("music").hidden = false;
  for (const id of ["result", "summary"]) {
    element(id).hidden = true;
    element(id).replaceChildren();
  }
  element("rest")?.setAttribute("hidden", "");
  practice.querySelectorAll("svg.rows").forEach((svg) => svg.removeAttribute("hidden"));
}

/** The one big button, and the space bar: start, stop, go on. */
function toggle() {
  if (state === "idle") begin();
  else if (state === "running") go.finish(wholeDay && settings.place === "off" ? "over" : "stopped");
  else rest.choose("on");
}

function skip() {
  if (state === "running") go.finish("skip");
  else rest.choose("skip");
}

function hold() {
  rest.hold();
  state = "held";
  label();
  status("held");
}

function withoutRecording() {
  recording = false;
  begin();
}

holdsOff(() => state !== "idle" || !element("result").hidden || !element("summary").hidden);
bindKeys({ toggle, idle: () => state !== "running", over: () => practice.hidden });
window.addEventListener("beforeunload", (event) => {
  if (state === "running" && go.records) event.preventDefault();
});

onWithout(withoutRecording);
const acts = {
  go: toggle,
  without: withoutRecording,
  discard: () => go.finish("discarded"),
  hold,
  again: () => rest.choose("again"),
  skip,
  finish: () => rest.choose("end"),
};
for (const [id, act] of Object.entries(acts)) {
  element(id).addEventListener("click", () => {
    act();
    if (id !== "go") element("go").focus({ preventScroll: true });
  });
}
element("upload")?.querySelector("form").addEventListener("submit", () => {
  element("upload-said").textContent = say("upload_sending");
});
element("acts").hidden = element("controls").hidden = false;
if (!window.isSecureContext && facts.may_record) trouble("mic_insecure");
picture.dress(facts);
label();
pause(0).then(() => practice.setAttribute("data-ready", ""));
