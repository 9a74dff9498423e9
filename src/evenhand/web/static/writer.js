// The row of buttons that writes an exercise (web/signs.py has their table). It writes where the cursor stands, the
// keyboard of a phone stays closed, and what was typed by hand is undone by the same button.

const MOST_BACK = 200, GROUP = 4;
const VALUE = /\d+\/\d+:/, OPEN_VALUE = /\s*\d+\/\d+:\s*$/, METER = /^\s*\d+(\+\d+)*\/\d+(?!\d*:)\s*/;
const NOTE = /([>^]?)([rl]{0,3})([>^]?)(\(?)([RLB])([xok]?)(\)?)(~|\/*)(\+?)$/;
const OTHER = { R: "l", L: "r", B: "l" };
const line = document.getElementById("text");
const panel = document.getElementById("writer");
const before = []; // [text, place of writing], the newest last
let place = line.value.length;
let shown = line.value;

for (const event of ["select", "keyup", "click", "focus"]) {
  line.addEventListener(event, () => (place = line.selectionStart));
}
line.addEventListener("input", (event) => {
  if (!event.isTrusted) return;
  keep(shown, place);
  shown = line.value;
  place = line.selectionStart;
});
panel.addEventListener("pointerdown", (event) => event.target.closest("button") && event.preventDefault());
panel.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-kind]");
  if (button) press(button.dataset);
});
panel.hidden = false;
document.getElementById("width").value = Math.floor(document.getElementById("typed").clientWidth);

function keep(text, at) {
  before.push([text, at]);
  if (before.length > MOST_BACK) before.shift();
}

function press({ kind, part, text }) {
  if (kind === "act" && text === "undo") {
    const last = before.pop();
    if (last) show(...last);
    return;
  }
  const written = WRITES[kind](line.value.slice(0, place), line.value.slice(place), text, part);
  if (written === null) return;
  keep(line.value, place);
  show(written[0] + written[1], written[0].length);
}

function show(text, at) {
  line.value = shown = text;
  place = Math.min(at, text.length);
  line.setSelectionRange(place, place);
  line.dispatchEvent(new Event("input", { bubbles: true }));
}

// Each takes what stands before the place of writing and behind it, and returns the same; null changes nothing.
const WRITES = {
  sign: (left, right, text) => {
    const spaced = text.startsWith(" ");
    const begun = spaced || VALUE.test(left + right) ? left : `${left}1/8: `;
    if (spaced) return [begun.trimEnd() + text, right.trimStart()];
    return [begun + (isFull(begun) && text !== "_" ? " " : "") + text, right];
  },
  value: (left, right, text) => [`${left.replace(OPEN_VALUE, "").trimEnd()} ${text}: `.trimStart(), right],
  meter: (left, right, text) => [`${text} ${left.replace(METER, "")}`, right],
  mark: (left, right, text, part) => {
    const note = NOTE.exec(left);
    return note && [left.slice(0, note.index) + marked(note, part, text), right];
  },
  act: (left, right, text) => ACTS[text](left, right),
};

const ACTS = {
  again: (left, right) => twice(left, right, (notes) => notes),
  swapped: (left, right) => twice(left, right, (notes) => notes.replace(/[a-z]{2,}(?![RLB])|[RLrl]/g, (found) => SWAP[found] ?? found)),
  back: (left, right) => {
    const shorter = left.trimEnd().replace(NOTE, "");
    if (shorter !== left.trimEnd()) return [shorter, right];
    return left ? [left.trimEnd().replace(/(\d+\/\d+:?|[a-z]+|.)$/, ""), right] : null;
  },
};
const SWAP = { R: "L", L: "R", r: "l", l: "r" };

// Write again what stands since the last bar line; a meter is not repeated, nor a value that holds anyway.
function twice(left, right, change) {
  const all = left.trimEnd().split("|").pop().replace(METER, "").trim();
  const value = VALUE.exec(all);
  const holds = value?.index === 0 && left.match(new RegExp(VALUE, "g")).pop() === value[0];
  const since = holds ? all.slice(value[0].length).trim() : all;
  return since ? [`${left.trimEnd()} ${change(since)}`, right] : null;
}

/** Tells whether a group of notes is full, so that a space comes before the next. */
function isFull(text) {
  return /\S$/.test(text) && (text.split(" ").pop().match(/[RLB-]/g) ?? []).length >= GROUP;
}

function marked(note, part, text) {
  const found = { accent: note[1] || note[3], graces: note[2], brackets: note[4] && "()", sound: note[6], tail: note[8] };
  const wanted = part === "graces" ? OTHER[note[5]].repeat(text.length) : text;
  found[part] = found[part] === wanted ? "" : wanted;
  const [open, close] = found.brackets ? "()" : ["", ""];
  return found.accent + found.graces + open + note[5] + found.sound + close + found.tail + note[9];
}
