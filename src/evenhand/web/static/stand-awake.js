// Keeps the screen on while one practises: a phone that locks itself ends the take.

let lock = null, wanted = false;

export async function stayAwake() {
  wanted = true;
  lock = (await navigator.wakeLock?.request("screen").catch(() => null)) ?? null;
  if (!wanted) letSleep(); // it came too late
}

export function letSleep() {
  wanted = false;
  lock?.release().catch(() => {});
  lock = null;
}

document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible" && wanted) stayAwake(); // a hidden page lets go of the screen
});
