// A take that is over: sent, heard, and shown; or, while the day goes on, said in one line.

import { dropTake } from "./keep.js";
import { SILENCE } from "./stand-meter.js";
import { say } from "./stand-page.js";
import { showWhenHeard, whenHeard } from "./stand-result.js";
import { fillBar, status, trouble } from "./stand-said.js";
import { deliver } from "./stand-send.js";

export const PATIENCE_MS = 20_000;
const LEAST_S = 2, CLIPPED = 0.9999; // of full scale

const element = (id) => document.getElementById(id);

/** Tells whether a take is worth sending; what is too short or too quiet is forgotten, and that is said. */
export async function worthSending(kept, told) {
  const silent = kept.peak < SILENCE;
  if (kept.samples >= LEAST_S * kept.rate && !silent) {
    if (kept.peak >= CLIPPED) trouble("clipped");
    return true;
  }
  await dropTake(kept.key);
  told(silent ? "silent" : "short");
  return false;
}

/** Says why a take was not taken; it stays on this device. */
export function refused(error) {
  if (error.status === 401) trouble("kept_session");
  else trouble("kept_refused", { reason: error.message });
}

/** Sends a take while the day goes on, and says in one line what was heard, if `quiet()` by then. */
export async function sendBehind(kept, item, quiet) {
  const line = (text) => quiet() && (element("heard-line").textContent = text);
  if (!(await worthSending(kept, (key) => line(say(key))))) return;
  line(say("line_sending"));
  try {
    const id = await deliver(kept.key, (key) => line(say(key)));
    fillBar(item.sent).catch(() => {});
    const { status: end, said } = await whenHeard(id, PATIENCE_MS);
    if (end === "heard") line(say("line_heard", { what: item.title, said }));
  } catch (error) {
    refused(error);
  }
}

/** Sends one exercise's take, waits for what was heard, and puts it into the page while it is `mine()`. */
export async function sendAndShow(kept, mine, shown) {
  if (!(await worthSending(kept, status))) return;
  status("sending");
  try {
    const id = await deliver(kept.key, (key) => mine() && status(key));
    if (mine()) status("hearing");
    const end = await showWhenHeard(id, element("result"), PATIENCE_MS);
    fillBar(kept.sent).catch(() => {});
    if (mine()) shown(end);
  } catch (error) {
    refused(error);
    status(null);
  }
}
