// Waits until a take is heard, and puts what was heard into the page.

import { getJson, getText, pause } from "./stand-page.js";

const QUICK_MS = 150, SLOW_MS = 1000, QUICK_FOR_MS = 5000;

/** Resolves to "heard", "failed" (with its words in the page), or "waiting" after `patienceMs`. */
export async function showWhenHeard(id, place, patienceMs) {
  const began = performance.now();
  for (;;) {
    const gone = performance.now() - began;
    const { status } = await getJson(`/stand/takes/${id}/state.json`).catch(() => ({ status: "waiting" }));
    if (status === "heard" || status === "failed") {
      place.innerHTML = await getText(`/stand/takes/${id}/result`);
      place.hidden = false;
      return status;
    }
    if (gone > patienceMs) return "waiting";
    await pause(gone < QUICK_FOR_MS ? QUICK_MS : SLOW_MS);
  }
}
