// The camera beside the recording: its preview with what to change, and the pictures of a take while it is on.
//
// The sound is recorded as always; the film has no sound of its own, and says when it begins in the recording.

import { say } from "./stand-page.js";
import { HUES_DEG, lookAt, tapeOf } from "./stand-set-up.js";

const LOOK_MS = 700, LOOK_PX = 240; // how often and how wide the preview is looked at
const LEVEL_DEG = 2, FEWEST_FPS = 50;
const BITS_PER_S = 4_000_000;
const FORMS = ["video/mp4;codecs=avc1", "video/webm;codecs=h264", "video/webm;codecs=vp9", "video/webm"];
const NAMES = { R: "right", L: "left" };
const KEPT = "evenhand-film";

const element = (id) => document.getElementById(id);
const section = element("film");
let stream = null, timer = null;

function wanted() {
  return { R: element("film-R").value, L: element("film-L").value };
}

/** Opens the camera and shows its picture. */
async function open() {
  const video = { facingMode: "environment", width: { ideal: 1280 }, height: { ideal: 720 }, frameRate: { ideal: 60 } };
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video });
  } catch (error) {
    lines([say("film_refused", { reason: error.name })]);
    return;
  }
  stream.getVideoTracks()[0].addEventListener("ended", close);
  element("film-view").srcObject = stream;
  await element("film-view").play().catch(() => {});
  timer = setInterval(look, LOOK_MS);
  label();
}

function close() {
  stream?.getTracks().forEach((track) => track.stop());
  stream = null;
  clearInterval(timer);
  element("film-view").srcObject = null;
  lines([]);
  label();
}

function label() {
  const on = stream !== null;
  element("film-view").hidden = element("film-told").hidden = !on;
  element("film-state").textContent = on ? say("film_on") : "";
  element("film-go").textContent = say(on ? "film_turn_off" : "film_turn_on");
  element("film-go").setAttribute("aria-pressed", String(on));
}

/** Looks at the preview, and says what to change. */
function look() {
  const view = element("film-view");
  if (!view.videoWidth) return;
  const canvas = document.createElement("canvas");
  canvas.width = LOOK_PX;
  canvas.height = Math.round((LOOK_PX * view.videoHeight) / view.videoWidth);
  const drawing = canvas.getContext("2d", { willReadFrequently: true });
  drawing.drawImage(view, 0, 0, canvas.width, canvas.height);
  const { data } = drawing.getImageData(0, 0, canvas.width, canvas.height);
  lines(said(lookAt(data, canvas.width, canvas.height, wanted()), view));
}

function said({ dark, tapes, tiltDeg }, view) {
  const colours = wanted(), fps = stream?.getVideoTracks()[0].getSettings().frameRate ?? 0;
  const out = [say(dark ? "film_dark" : "film_light")];
  if (colours.R === colours.L) out.push(say("film_alike"));
  for (const hand of ["R", "L"]) {
    out.push(say(`film_tape_${tapeOf(tapes[hand])}`, { hand: NAMES[hand], colour: colours[hand] }));
  }
  if (tiltDeg === null) out.push(say("film_level_unknown"));
  else out.push(Math.abs(tiltDeg) <= LEVEL_DEG ? say("film_level") : say("film_tilted", { deg: Math.round(Math.abs(tiltDeg)) }));
  if (view.videoHeight > view.videoWidth) out.push(say("film_upright"));
  if (fps && fps < FEWEST_FPS) out.push(say("film_frames", { fps: Math.round(fps) }));
  return out;
}

function lines(texts) {
  const list = element("film-said");
  const rows = [...list.children].map((row) => row.textContent);
  if (rows.join("|") === texts.join("|")) return; // what stays is not read out again
  list.replaceChildren(...texts.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
}

/** Begins to film, where the camera is on; `secondsNow()` is where the recording is. Null where it is off. */
export function film(secondsNow) {
  if (stream === null || typeof MediaRecorder === "undefined") return null;
  const mimeType = FORMS.find((form) => MediaRecorder.isTypeSupported(form));
  const recorder = new MediaRecorder(stream.clone(), { mimeType, videoBitsPerSecond: BITS_PER_S });
  const parts = [];
  let startsS = secondsNow();
  recorder.onstart = () => (startsS = secondsNow());
  recorder.ondataavailable = ({ data }) => data.size && parts.push(data);
  const over = new Promise((done) => (recorder.onstop = recorder.onerror = done));
  recorder.start(1000);
  return {
    /** Ends the film; resolves to it with what goes along, or to null where there is none. */
    async stop() {
      if (recorder.state !== "inactive") recorder.stop();
      await over;
      recorder.stream.getTracks().forEach((track) => track.stop());
      if (!parts.length) return null;
      const { R, L } = wanted(), pad = element("film-pad").value.trim();
      const sent = { film_starts_s: startsS.toFixed(3), tape: `R=${R},L=${L}`, ...(pad && { pad_cm: pad }) };
      return { film: new Blob(parts, { type: recorder.mimeType.split(";")[0] }), sent };
    },
  };
}

function remember() {
  try {
    localStorage.setItem(KEPT, JSON.stringify({ ...wanted(), pad: element("film-pad").value }));
  } catch {
    // a browser that keeps nothing
  }
}

function recall() {
  try {
    return JSON.parse(localStorage.getItem(KEPT)) ?? {};
  } catch {
    return {};
  }
}

if (section) {
  const kept = { R: "blue", L: "green", pad: "", ...recall() };
  for (const hand of ["R", "L"]) {
    const choices = Object.keys(HUES_DEG).map((name) => new Option(name, name, false, name === kept[hand]));
    element(`film-${hand}`).replaceChildren(...choices);
    element(`film-${hand}`).addEventListener("change", remember);
  }
  element("film-pad").value = kept.pad;
  element("film-pad").addEventListener("change", remember);
  element("film-go").addEventListener("click", () => (stream ? close() : open()));
  window.addEventListener("pagehide", close);
  section.hidden = !(window.isSecureContext && navigator.mediaDevices?.getUserMedia);
  label();
}
