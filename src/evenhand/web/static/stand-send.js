// Sends a kept take until the server has acknowledged it; only then is it forgotten here.

import { dropTake, keepTake, keptChunks, keptTake } from "./keep.js";
import { sendPast } from "./stand-direct.js";
import { Refused, post, takesAt } from "./stand-page.js";
import { wavOf } from "./stand-wav.js";

const FIRST_MS = 1000, MOST_MS = 60_000;
const underway = new Map();

/** Returns the take's id at the server. `told("offline")` is called before each further try. */
export function deliver(key, told = () => {}) {
  if (!underway.has(key)) {
    underway.set(key, insist(key, told).finally(() => underway.delete(key)));
  }
  return underway.get(key);
}

async function insist(key, told) {
  for (let wait = FIRST_MS; ; wait = Math.min(2 * wait, MOST_MS)) {
    try {
      return await once(key);
    } catch (error) {
      if (error.status === 413 && (await withoutFilm(key))) continue; // the sound alone may have room
      if (!(error instanceof Refused) || !passes(error.status)) throw error;
    }
    told("offline");
    await backOnline(wait);
  }
}

/** Lets go of a kept take's film; tells whether it had one. */
async function withoutFilm(key) {
  const { film, ...take } = (await keptTake(key)) ?? {};
  if (film) await keepTake(take);
  return Boolean(film);
}

/** Tells whether a refusal may pass by itself: no connection, too busy, an error of the server's own. */
function passes(status) {
  return status === 0 || status === 408 || status === 429 || status >= 500;
}

async function once(key) {
  const take = await keptTake(key);
  if (!take) throw new Refused(410, "");
  const chunks = await keptChunks(key);
  const form = new FormData();
  for (const [name, value] of Object.entries(take.sent)) form.append(name, value);
  form.append("upload_key", key);
  form.append("source", "microphone");
  const { id } = await sent(form, wavOf(chunks, take.rate), take.film);
  if (id) await dropTake(key);
  return id;
}

/** Sends the files past the server where that goes, else with the form; what did not arrive so goes with it, too. */
async function sent(form, recording, film) {
  const past = await sendPast(recording), filmPast = past && film ? await sendPast(film) : null;
  const put = (whole) => {
    const body = new FormData();
    for (const [name, value] of form) body.append(name, value);
    if (past && !whole) body.append("sent", past);
    else body.append("recording", recording, "take.wav");
    if (filmPast && !whole) body.append("sent_film", filmPast);
    else if (film) body.append("film", film, "film");
    return post(takesAt, body);
  };
  return put(false).catch((error) => {
    if (!past || error.status !== 409) throw error;
    return put(true);
  });
}

/** Waits so long, or until the connection is back. */
function backOnline(ms) {
  return new Promise((done) => {
    const timer = setTimeout(end, ms);
    function end() {
      clearTimeout(timer);
      window.removeEventListener("online", end);
      done();
    }
    window.addEventListener("online", end);
  });
}
