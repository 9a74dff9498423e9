// Waits until a take is heard, and puts what was heard into the page.

import { getJson, getText, pause, takesAt } from "./stand-page.js";

const QUICK_MS = 150, SLOW_MS = 1000, QUICK_FOR_MS = 5000;
const WAITS_S = 20; // so long the server may hold its answer, where it is told of takes; else it answers at once

/** Resolves to the take's { status, said }: "heard", "failed", or "waiting" after `patienceMs`. */
export async function whenHeard(id, patienceMs) {
  const began = performance.now();
  for (;;) {
    const gone = performance.now() - began;
    const wait = Math.max(0, Math.min(WAITS_S, (patienceMs - gone) / 1000));
    const found = await getJson(`${takesAt}/${id}/state.json?wait=${wait}`).catch(() => ({ status: "waiting" }));
    const held = performance.now() - began - gone;
    if (found.status === "heard" || found.status === "failed") return found;
    if (gone > patienceMs) return { status: "waiting" };
    await pause((gone < QUICK_FOR_MS ? QUICK_MS : SLOW_MS) - held);
  }
}

/** Resolves to "heard" or "failed", with its words in the page, or to "waiting". */
export async function showWhenHeard(id, place, patienceMs) {
  const { status } = await whenHeard(id, patienceMs);
  if (status === "waiting") return status;
  place.innerHTML = await getText(`${takesAt}/${id}/result`);
  place.hidden = false;
  return status;
}
