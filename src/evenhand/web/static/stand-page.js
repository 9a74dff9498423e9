// What the stand's scripts share: the page's words, its token, how the server is asked.

import { noteBuild } from "./stand-newer.js";
import { WORDS } from "./stand-words.js";

const root = document.getElementById("stand");

export const student = root.dataset.student;
/** Where takes are sent and asked for, and where one is looked at: the student's own, or what the teacher's page says. */
export const takesAt = root.dataset.takes ?? "/stand/takes";
export const takeAt = root.dataset.take ?? "/stand/takes";
/** Whether what is played is heard while it is played; the teacher's page has no such ear. */
export const hearsLive = !root.dataset.takes;
/** Where a ticket is asked for by which recordings go past the server; undefined where they do not. */
export const ticketAt = root.dataset.ticket;
/** Where the delay of a device is kept. */
export const deviceAt = root.dataset.device ?? "/stand/device";

const says = { ...WORDS, ...JSON.parse(root.dataset.says ?? "{}") };

/** Returns one of the scripts' texts, its {places} filled in. */
export function say(key, facts = {}) {
  return says[key].replace(/\{(\w+)\}/g, (_, name) => facts[name] ?? "");
}

/** An answer of the server that is a no; `status` 0 is no answer at all. */
export class Refused extends Error {
  constructor(status, reason) {
    super(reason);
    this.status = status;
  }
}

async function asked(path, options) {
  let answer;
  try {
    answer = await fetch(path, { credentials: "same-origin", ...options });
  } catch {
    throw new Refused(0, say("no_connection"));
  }
  noteBuild(answer);
  return answer;
}

/** Posts a form, and returns the JSON of the answer. */
export async function post(path, form) {
  const headers = { Accept: "application/json", "X-Evenhand-Csrf": document.body.dataset.csrf };
  const answer = await asked(path, { method: "POST", body: form, headers });
  const found = await answer.json().catch(() => ({}));
  if (!answer.ok) throw new Refused(answer.status, found.error ?? `${answer.status}`);
  return found;
}

export async function getJson(path) {
  const answer = await asked(path, { headers: { Accept: "application/json" } });
  if (!answer.ok) throw new Refused(answer.status, `${answer.status}`);
  return answer.json();
}

export async function getText(path) {
  const answer = await asked(path, {});
  if (!answer.ok) throw new Refused(answer.status, `${answer.status}`);
  return answer.text();
}

export function pause(ms) {
  return new Promise((done) => setTimeout(done, ms));
}

/** Writes a length as minutes and seconds: 0:07, 12:30. */
export function lengthWords(seconds) {
  const whole = Math.round(seconds);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}
