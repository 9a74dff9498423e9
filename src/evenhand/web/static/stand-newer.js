// A page that is older than its server: it is loaded again when nothing is in hand, and never twice for one server.

const TRIED = "evenhand-loaded-again-for";
const BUILD = "Evenhand-Build"; // what an answer's server makes pages of
const own = document.getElementById("stand").dataset.build;
let newer = null;
let inHand = () => false;

/** Looks at an answer of the server; `null` is none. */
export function noteBuild(answer) {
  const build = answer?.headers.get(BUILD);
  if (build && own && build !== own) newer = build;
}

/** Loads the page again if the server has a newer one, and nothing is in hand. */
export function renew() {
  if (newer === null || inHand() || sessionStorage.getItem(TRIED) === newer) return;
  sessionStorage.setItem(TRIED, newer);
  location.reload();
}

/** Says how to tell whether a take, or what was heard of it, is in hand. */
export function holdsOff(holds) {
  inHand = holds;
}

document.addEventListener("visibilitychange", async () => {
  if (document.visibilityState !== "visible") return;
  noteBuild(await fetch("/health").catch(() => null));
  renew();
});
