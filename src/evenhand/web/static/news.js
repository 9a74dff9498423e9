// Says "came" to the page's parts as soon as a take of the studio came in or got on; they look now and then by themselves, too.

const WAITS_S = 20, BETWEEN_MS = 1000, AWAY_MS = 10_000;

function pause(ms) {
  return new Promise((done) => setTimeout(done, ms));
}

/** Resolves when the page is looked at: one that is not keeps no connection. */
function seen() {
  if (document.visibilityState === "visible") return Promise.resolve();
  return new Promise((done) => document.addEventListener("visibilitychange", done, { once: true })).then(seen);
}

async function listen() {
  for (let since = 0; ; ) {
    await seen();
    const answer = await fetch(`/news?wait=${WAITS_S}&since=${since}`).catch(() => null);
    if (answer?.status === 401) return;
    const found = answer?.ok ? await answer.json().catch(() => null) : null;
    if (found?.came) document.body.dispatchEvent(new Event("came"));
    since = found?.at ?? since;
    await pause(found?.holds ? BETWEEN_MS : AWAY_MS);
  }
}

listen();
