// Recordings kept in the browser, in chunks while they are made, until the server has them.
//
// A take is { key, student, state: "recording" | "ended", touched, rate, samples, peak, sent }: `sent` are
// the fields that go with it, `film` its pictures where the camera was on. Chunks are Float32Array, numbered from 0. Where the browser keeps nothing
// (a private window), they are held in memory, and `keepsLastingly` says no.

const NAME = "evenhand-stand";
const memory = { takes: new Map(), chunks: new Map() };
let opening = null;
let lasting = true;

/** Tells whether what is kept outlasts the page. */
export function keepsLastingly() {
  return lasting;
}

function open() {
  opening ??= new Promise((done) => {
    let request;
    try {
      request = indexedDB.open(NAME, 1);
    } catch {
      done(null);
      return;
    }
    request.onupgradeneeded = () => {
      request.result.createObjectStore("takes", { keyPath: "key" });
      request.result.createObjectStore("chunks", { keyPath: ["key", "n"] });
    };
    request.onsuccess = () => done(request.result);
    request.onerror = () => done(null);
    request.onblocked = () => done(null);
  }).then((db) => {
    lasting = db !== null;
    return db;
  });
  return opening;
}

/** Runs `act` on the stores, and resolves when all of it is committed. */
async function within(mode, act) {
  const db = await open();
  return new Promise((done, fail) => {
    const change = db.transaction(["takes", "chunks"], mode);
    const request = act(change.objectStore("takes"), change.objectStore("chunks"));
    change.oncomplete = () => done(request?.result);
    change.onerror = change.onabort = () => fail(change.error);
  });
}

const all = (key) => IDBKeyRange.bound([key, 0], [key, Infinity]);

export async function keepTake(take) {
  if ((await open()) === null) memory.takes.set(take.key, take);
  else await within("readwrite", (takes) => takes.put(take));
}

/** Keeps the next chunk, and with it the take's newest facts: both or neither. */
export async function keepChunk(take, n, samples) {
  if ((await open()) === null) {
    memory.takes.set(take.key, take);
    memory.chunks.set(take.key, [...(memory.chunks.get(take.key) ?? []), samples]);
    return;
  }
  await within("readwrite", (takes, chunks) => {
    takes.put(take);
    chunks.put({ key: take.key, n, samples });
  });
}

export async function keptTakes() {
  if ((await open()) === null) return [...memory.takes.values()];
  return within("readonly", (takes) => takes.getAll());
}

export async function keptTake(key) {
  if ((await open()) === null) return memory.takes.get(key);
  return within("readonly", (takes) => takes.get(key));
}

export async function keptChunks(key) {
  if ((await open()) === null) return memory.chunks.get(key) ?? [];
  const rows = await within("readonly", (_, chunks) => chunks.getAll(all(key)));
  return rows.map((row) => row.samples);
}

/** Forgets a take; done only when the server has it, or when the student discards it. */
export async function dropTake(key) {
  memory.takes.delete(key);
  memory.chunks.delete(key);
  if ((await open()) === null) return;
  await within("readwrite", (takes, chunks) => {
    takes.delete(key);
    chunks.delete(all(key));
  });
}
