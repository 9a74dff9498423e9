// Drops as they fall: a row for each, a tick for each bounce, and between two the flight, as high as it was long.
//
// A sketch of what the live ear hears; what is said of the drops comes of the whole recording. It has what
// Sticks has, so the stand draws either. A flight of T seconds goes g T² / 8 high, as of a free fall.

import { say } from "./stand-page.js";

const SVG = "http://www.w3.org/2000/svg";
const LONGEST_FLIGHT_S = 0.75, LOUDER_DB = 6; // as progress/bounce/drops.py: another drop begins
const ROW_PX = 46, BASE_PX = 38, ARC_PX = 30, LEFT_PX = 62, RIGHT_PX = 26;
const SHOWN_S = 2.0, TALLEST_CM = 12, CM_PER_S2 = 980.665 / 8;
const NAMES = { R: "right", L: "left" };

export class Drops {
  /** `facts` are the practice's; `svgs` hold one empty svg. */
  constructor(facts, [svg]) {
    this.facts = facts;
    this.svg = svg;
    this.clear();
  }

  clear() {
    this.rows = [];
    this.svg.replaceChildren();
    this.sized();
  }

  /** How many drops fell so far. */
  get repetition() {
    return this.rows.length;
  }

  /** How many are to fall; Infinity where there is no end. */
  get wanted() {
    return (this.facts.repetitions ?? Infinity) * this.facts.drops.length;
  }

  get heard() {
    return this.rows.reduce((sum, row) => sum + row.hits.length, 0);
  }

  /** Draws a hit: a bounce of the drop that falls, or the first of another. */
  add({ time_s: at, level_db: level }) {
    let row = this.rows[this.rows.length - 1];
    if (row && this.isNoDrop(row, at, level)) this.forget(row);
    else if (!row || this.isAnother(row, at, level)) row = this.begin();
    const last = row.hits[row.hits.length - 1];
    row.hits.push({ at, level });
    const x = this.x(at - row.hits[0].at), y = row.y;
    const ink = row.hand === "R" ? "r" : "l";
    this.path(row, `at ${ink}`, `M${x.toFixed(1)} ${y + 2}v5`);
    if (last) this.path(row, `line ${ink}`, this.arc(last.at - row.hits[0].at, at - row.hits[0].at, y));
    row.count.textContent = row.hits.length;
  }

  /** Tells whether what stood for a drop was a stir before it: a bounce is never louder than its landing. */
  isNoDrop({ hits }, at, level) {
    return hits.length === 1 && at - hits[0].at <= LONGEST_FLIGHT_S && level > hits[0].level + LOUDER_DB;
  }

  forget(row) {
    row.hits = [];
    row.drawn.querySelectorAll(".at").forEach((mark) => mark.remove());
  }

  isAnother({ hits }, at, level) {
    const last = hits[hits.length - 1];
    if (at - last.at > LONGEST_FLIGHT_S) return true;
    const before = hits.length > 1 ? last.at - hits[hits.length - 2].at : LONGEST_FLIGHT_S;
    return level > last.level + LOUDER_DB && at - last.at > before;
  }

  begin() {
    const hand = this.facts.drops[this.rows.length % this.facts.drops.length];
    const row = { hits: [], hand, y: ROW_PX * this.rows.length + BASE_PX };
    row.drawn = this.svg.appendChild(document.createElementNS(SVG, "g"));
    this.rows.push(row);
    this.sized();
    this.path(row, "grid", `M${LEFT_PX} ${row.y}H${this.width - RIGHT_PX}`);
    this.text(0, row.y, `${this.rows.length} ${NAMES[hand]}`, "s");
    row.count = this.text(this.width, row.y, "", "n");
    return row;
  }

  sized() {
    const { width } = this.facts.lines[0];
    this.width = width;
    this.svg.setAttribute("viewBox", `0 0 ${width} ${Math.max(1, this.rows.length) * ROW_PX + 6}`);
  }

  x(seconds) {
    return LEFT_PX + ((this.width - LEFT_PX - RIGHT_PX) * Math.min(seconds, SHOWN_S)) / SHOWN_S;
  }

  arc(from, to, y) {
    const high = Math.min(1, (CM_PER_S2 * (to - from) ** 2) / TALLEST_CM) * ARC_PX;
    const [a, b] = [this.x(from), this.x(to)].map((x) => x.toFixed(1));
    return `M${a} ${y}Q${((Number(a) + Number(b)) / 2).toFixed(1)} ${(y - 2 * high).toFixed(1)} ${b} ${y}`;
  }

  path(row, className, data) {
    const made = document.createElementNS(SVG, "path");
    made.setAttribute("class", className);
    made.setAttribute("d", data);
    row.drawn.append(made);
  }

  text(x, y, words, className) {
    const made = document.createElementNS(SVG, "text");
    made.setAttribute("class", className);
    made.setAttribute("x", x);
    made.setAttribute("y", y);
    made.textContent = words;
    this.svg.append(made);
    return made;
  }
}

/** Says how many drops fell. */
export function dropsWords(drops) {
  const facts = { n: drops.repetition, of: drops.wanted };
  return drops.wanted === Infinity ? say("dropping_free", facts) : say("dropping", facts);
}
