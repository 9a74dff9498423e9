// Beside the stand's pages: the day opens without a network. It keeps what pages are made of, and the pages of one
// student, the newest who was here; what it keeps of a student goes with the session, and when one leaves.
//
// BUILD and SHELL stand above this when it is served: which server it came from, and what its pages are made of.
// It sends no takes: pages do, from their own store, by a key that makes each one arrive once.

const SHELLS = "evenhand-shell", PAGES = "evenhand-pages", LINKS = "evenhand-links";
const WHOSE = "Evenhand-Whose"; // a page's header: the same for all pages of one session
const PATIENCE_MS = 4000; // then what is kept is shown, where anything is
const GONE = [401, 403, 410];
let forgotten = 0; // how often all of a student was: what was asked for before that is not kept after it

self.addEventListener("install", (event) => event.waitUntil(fill()));
self.addEventListener("activate", (event) => event.waitUntil(tidy()));
self.addEventListener("message", (event) => event.waitUntil(ahead(event.data.keep)));
self.addEventListener("fetch", (event) => {
  const { request } = event, url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.method === "POST") {
    if (url.pathname === "/stand/leave") event.respondWith(leave(request));
  } else if (SHELL.includes(url.pathname)) event.respondWith(shell(request));
  else if (request.mode !== "navigate") return;
  else if (isPage(url)) event.respondWith(page(request));
  else if (url.pathname.startsWith("/s/")) event.respondWith(link(request, url.pathname));
});

/** Tells whether an address is a page that is kept: a day, or one of its exercises. */
function isPage({ pathname }) {
  return pathname === "/stand" || pathname.startsWith("/stand/practice/");
}

async function fill() {
  const kept = await caches.open(SHELLS);
  await kept.addAll(SHELL);
  await self.skipWaiting();
}

/** Lets go of what older pages were made of. */
async function tidy() {
  const kept = await caches.open(SHELLS);
  const old = (await kept.keys()).filter(({ url }) => !SHELL.includes(new URL(url).pathname));
  await Promise.all(old.map((each) => kept.delete(each)));
  await self.clients.claim();
}

async function shell(request) {
  return (await caches.match(request.url, { cacheName: SHELLS })) ?? fetch(request);
}

/** Answers with a page from the network, and keeps it; where there is none, or a slow one, with what is kept. */
async function page(request) {
  const kept = await caches.match(request.url, { cacheName: PAGES }), since = forgotten;
  try {
    const answer = await Promise.race([asked(request.url), ...(kept ? [late()] : [])]);
    if (answer.status >= 500 && kept) return kept;
    await keep(request.url, answer.clone(), since);
    return answer;
  } catch {
    return kept ?? without();
  }
}

/** Asks for a page, without what is kept already. */
function asked(url) {
  return fetch(url, {
    credentials: "same-origin",
    redirect: "manual",
    headers: { Accept: "text/html", "Evenhand-Has": BUILD },
  });
}

function late() {
  return new Promise((_, fail) => setTimeout(fail, PATIENCE_MS));
}

/** Keeps a page of the one who is here; whoever was before is forgotten, and so is who may not come in. */
async function keep(url, answer, since) {
  const whose = answer.headers.get(WHOSE);
  if (answer.type === "opaqueredirect" || GONE.includes(answer.status)) await wipe();
  if (!answer.ok || !whose || since !== forgotten) return;
  const pages = await caches.open(PAGES);
  const [first] = await pages.keys();
  if (first && (await pages.match(first)).headers.get(WHOSE) !== whose) {
    const wiped = wipe();
    since = forgotten;
    await wiped;
  }
  const kept = await caches.open(PAGES);
  if (since === forgotten) await kept.put(url, answer);
  else await caches.delete(PAGES);
}

/** Leaves: what is still on its way, or asked for until the server knows, is not kept either. */
async function leave(request) {
  await wipe();
  try {
    return await fetch(request);
  } finally {
    await wipe();
  }
}

/** Forgets all that was kept of a student. */
async function wipe() {
  forgotten += 1;
  await Promise.all([PAGES, LINKS].map((name) => caches.delete(name)));
}

/** Keeps pages before they are opened: the day's exercises and the week's other days. */
async function ahead(paths) {
  for (const path of paths) {
    const url = new URL(path, location.origin);
    if (url.origin !== location.origin || !isPage(url)) continue;
    const since = forgotten, answer = await asked(url).catch(() => null);
    if (answer) await keep(url.href, answer, since);
  }
}

/** Follows a private link; without a network it leads to the day where it led there before. Only its digest is kept. */
async function link(request, path) {
  const bytes = new Uint8Array(await crypto.subtle.digest("SHA-256", new TextEncoder().encode(path)));
  const known = `/s/${[...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("")}`;
  try {
    const answer = await fetch(request);
    await (await caches.open(LINKS)).put(known, new Response(""));
    return answer;
  } catch {
    return (await caches.match(known, { cacheName: LINKS })) ? Response.redirect("/stand") : without();
  }
}

function without() {
  const words =
    "<!doctype html><html lang=en><meta charset=utf-8><meta name=viewport content='width=device-width'>" +
    "<title>No connection</title><main><h1>No connection</h1><p>This page is not kept on this device.</p>" +
    "<p><a href='/stand'>Today's practice</a></p></main></html>";
  return new Response(words, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8" } });
}
