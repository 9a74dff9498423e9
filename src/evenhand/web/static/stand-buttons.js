// What the stand's buttons say and which of them are there, and the line above them.

import { say } from "./stand-page.js";

const element = (id) => document.getElementById(id);

/** `silent`: the click is off; `records`: it records just now; `open`: the microphone is open. */
export function showButtons({ state, wholeDay, begun, mayRecord, silent, records, open }) {
  const between = state === "resting" || state === "held";
  const alone = !mayRecord ? "start_click" : silent ? "start_silent" : "start";
  const says = {
    idle: wholeDay ? (begun ? "start_on" : "start_day") : alone,
    opening: "opening",
    running: records ? "stop_send" : "stop",
    ending: "stopped",
    resting: "go_now",
    held: "go_on",
  };
  element("go").textContent = say(says[state]);
  element("go").hidden = state === "idle" && !wholeDay && !mayRecord && silent; // nothing would begin
  element("without").hidden = state !== "idle" || !mayRecord || silent;
  element("discard").hidden = !records;
  element("hold").hidden = state !== "resting";
  element("again").hidden = !between;
  element("skip").hidden = !(wholeDay && (between || state === "running"));
  element("finish").hidden = !(wholeDay && state === "held");
  element("told").textContent = told(records, between && open, state === "idle", mayRecord, wholeDay);
  element("practice").dataset.state = state;
  if (state === "running") document.querySelectorAll("audio").forEach((audio) => audio.pause());
  document.body.classList.toggle("running", state !== "idle" && state !== "held");
  if (document.activeElement?.hidden) element("go").focus({ preventScroll: true });
}

function told(records, between, idle, mayRecord, wholeDay) {
  if (records) return say("told_running");
  if (between) return say("told_between");
  if (!idle) return "";
  if (!mayRecord) return say("told_click");
  if (wholeDay) return say("told_day");
  return say(element("result").hidden ? "told" : "told_again");
}
