// What is got ready for a day without a network, and what is done when the server has newer pages than this one.

import { say } from "./stand-page.js";

const OLD_MS = 10 * 60_000; // a page that was made longer ago came from what is kept
const root = document.getElementById("stand");

/** Registers the worker that keeps pages, and names those that may be opened next. */
async function getReady() {
  if (!navigator.serviceWorker) return;
  await navigator.serviceWorker.register("/stand-worker.js", { scope: "/s" });
  const { active } = await navigator.serviceWorker.ready;
  const links = [...document.querySelectorAll("a[data-ahead]")].map((link) => link.getAttribute("href"));
  active.postMessage({ keep: [location.pathname + location.search, "/stand", ...links] });
}

/** Says of a page from what is kept when it was made. */
function sayAge() {
  const made = new Date(root.dataset.made);
  if (Date.now() - made < OLD_MS) return;
  const when = made.toLocaleString([], { weekday: "long", day: "numeric", month: "long", hour: "numeric", minute: "2-digit" });
  const words = document.createElement("p");
  words.className = "notice";
  words.setAttribute("role", "status");
  words.textContent = say("from_before", { when });
  document.querySelector("h1").after(words);
}

if (root.dataset.made) sayAge();
if (document.readyState === "complete") getReady().catch(() => {});
else window.addEventListener("load", () => getReady().catch(() => {}));
