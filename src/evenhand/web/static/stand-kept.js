// What is kept on this device from before: sent by itself where the recording had ended, offered where it broke off.

import { dropTake, keptChunks, keptTakes } from "./keep.js";
import { lengthWords, say, student, takeAt } from "./stand-page.js";
import { deliver } from "./stand-send.js";
import { wavOf } from "./stand-wav.js";

const STALE_MS = 5000; // a recording that was not touched for so long is no longer going on
const section = document.getElementById("kept");
const list = section.querySelector("ul");

async function show() {
  const takes = (await keptTakes()).filter((take) => take.student === student && take.samples > 0);
  let later = false;
  for (const take of takes) {
    const going = take.state === "recording" && Date.now() - take.touched < STALE_MS;
    if (going) later = true;
    else if (!document.getElementById(`kept-${take.key}`)) row(take);
  }
  if (later) setTimeout(show, STALE_MS);
}

function row(take) {
  const item = document.createElement("li");
  item.id = `kept-${take.key}`;
  const when = new Date(take.sent.recorded_at).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
  const length = lengthWords(take.samples / take.rate);
  const title = document.createElement("p");
  title.textContent = say("kept_one", { length, what: take.title, when });
  const said = document.createElement("p");
  said.className = "note";
  said.setAttribute("role", "status");
  const acts = document.createElement("p");
  acts.className = "acts";
  item.append(title, said, acts);
  list.append(item);
  section.hidden = false;
  if (take.state === "ended") send(take, said, acts);
  else {
    said.textContent = say("kept_broken");
    offer(take, said, acts);
  }
}

function offer(take, said, acts) {
  acts.replaceChildren(
    button("send", () => send(take, said, acts)),
    button("save", () => save(take)),
    button("discard", async () => {
      await dropTake(take.key);
      said.closest("li").remove();
      section.hidden = list.children.length === 0;
    }),
  );
}

function button(key, act) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = key === "send" ? "second" : "quiet";
  made.textContent = say(key);
  made.addEventListener("click", act);
  return made;
}

async function send(take, said, acts) {
  acts.replaceChildren();
  said.textContent = say("kept_waiting");
  try {
    const id = await deliver(take.key, () => (said.textContent = say("offline")));
    said.textContent = say("kept_sent");
    const link = document.createElement("a");
    link.href = `${takeAt}/${id}`;
    link.textContent = say("look");
    acts.replaceChildren(link);
  } catch (error) {
    said.textContent =
      error.status === 401 ? say("kept_session") : say("kept_refused", { reason: error.message });
    offer(take, said, acts);
  }
}

async function save(take) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(wavOf(await keptChunks(take.key), take.rate));
  link.download = `take-${take.sent.recorded_at.slice(0, 19).replaceAll(":", "")}.wav`;
  link.click();
}

show();
