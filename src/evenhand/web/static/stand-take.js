// A take's own page: waits until it is heard, then shows what was heard.

import { showWhenHeard } from "./stand-result.js";

const place = document.getElementById("result");
if (place && place.dataset.status !== "heard" && place.dataset.status !== "failed") {
  showWhenHeard(place.dataset.take, place, Infinity).catch(() => {});
}
