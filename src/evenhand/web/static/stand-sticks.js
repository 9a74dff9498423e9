// The live picture: under each engraved note a stick for each stroke as it is heard, row by row.
//
// `/` is the right hand, `\` the left; sideways is early (left) or late (right), magnified so that what an
// ear can't tell is as wide as the pale band; length and weight are the level. Nothing scrolls: rows get
// thinner as they become many. Geometry as in src/evenhand/report/plots/marks.py.

const SVG = "http://www.w3.org/2000/svg";
const LEAN = (34 * Math.PI) / 180;
const SHORTEST = 0.4, WEIGHTS = 5, EDGE_PX = 4, TICK_PX = 2.2, TOP_PX = 6, OVER_PX = 4;
const GRACE_PX = 9, GRACE_LENGTH = 0.7, LONGEST_PX = 24;
const RANGE_DB = 14; // at least so much between the longest and the shortest stick
const FULL = [[12, 17], [24, 14]]; // so many rows have so many px each; more share the last's room
const FREE_ROWS = 12;

const px = (value) => value.toFixed(1);

export class Sticks {
  /** `facts` are the practice's; `svgs` one empty svg for each line of music. */
  constructor(facts, svgs) {
    this.facts = facts;
    this.svgs = svgs;
    this.clear(60 / facts.bpm);
  }

  /** Begins anew, at a tempo of `beatS` seconds a beat. */
  clear(beatS) {
    const { audible, interval_beats, band_px, repetitions } = this.facts;
    const intervalMs = interval_beats * beatS * 1000;
    this.audibleMs = Math.max(audible.least_ms, audible.share * intervalMs);
    this.pxPerMs = band_px / this.audibleMs;
    this.pxPerS = this.facts.px_per_beat / beatS;
    this.rows = new Map();
    this.count = repetitions ?? FREE_ROWS;
    this.last = null;
    this.centreMs = 0;
    this.loudest = this.softest = null;
    this.draw();
  }

  get heard() {
    return [...this.rows.values()].reduce((sum, row) => sum + row.marks.length, 0);
  }

  get repetition() {
    return this.rows.size ? Math.max(...this.rows.keys()) : 0;
  }

  /** Draws a hit where it belongs. */
  add(hit) {
    if (hit.position === null) {
      if (this.last) this.row(this.last.repetition).extra.push({ ...hit, before: this.last });
      this.one(hit);
      return;
    }
    const opens = !this.rows.has(hit.repetition);
    this.row(hit.repetition).marks.push(hit);
    if (!hit.grace) this.last = hit;
    this.widen(hit.level_db);
    if (opens) this.settle();
    else this.one(hit);
  }

  row(repetition) {
    if (!this.rows.has(repetition)) this.rows.set(repetition, { marks: [], extra: [] });
    return this.rows.get(repetition);
  }

  /** A row is over: centre, levels and heights are brought up to date, and what is missing is ringed. */
  settle() {
    this.count = Math.max(this.count, this.repetition);
    const lates = [...this.rows.values()]
      .flatMap((row) => row.marks)
      .map((hit) => hit.asynchrony_ms)
      .filter((late) => late !== null)
      .sort((a, b) => a - b);
    const middle = lates.length >= 4 ? lates[lates.length >> 1] : 0;
    this.centreMs = Math.abs(middle) > 1.5 * this.audibleMs ? middle : 0;
    this.draw();
  }

  widen(levelDb) {
    this.loudest = Math.max(this.loudest ?? levelDb, levelDb);
    this.softest = Math.min(this.softest ?? levelDb, levelDb);
  }

  get pitch() {
    const full = FULL.find(([rows]) => this.count <= rows);
    const [rows, high] = FULL[FULL.length - 1];
    return full ? full[1] : Math.max(2.5, (rows * high) / this.count);
  }

  /** Draws everything anew. */
  draw() {
    const height = this.pitch * this.count + 2 * TOP_PX;
    this.facts.lines.forEach((line, i) => {
      const svg = this.svgs[i];
      svg.setAttribute("viewBox", `0 0 ${line.width} ${px(height)}`);
      svg.replaceChildren();
      this.columns(svg, line, height);
      this.labels(svg, line);
    });
    for (const [repetition, row] of this.rows) {
      row.marks.forEach((hit) => this.one(hit));
      row.extra.forEach((hit) => this.one(hit));
      if (repetition < this.repetition) this.rings(repetition, row);
    }
  }

  columns(svg, line, height) {
    const half = this.facts.band_px, tall = height - 2 * (TOP_PX - OVER_PX);
    const from = TOP_PX - OVER_PX;
    const bands = line.notes.map(({ x }) => `M${px(x - half)} ${from}h${px(2 * half)}v${px(tall)}h${px(-2 * half)}z`);
    const lines = line.notes.map(({ x }) => `M${px(x)} ${from}v${px(tall)}`);
    path(svg, "band", bands.join(""));
    path(svg, "zero", lines.join(""));
  }

  labels(svg, line) {
    if (line.notes.length === 0) return;
    const every = this.count > 24 ? 5 : 1;
    const x = line.notes[0].x - this.facts.half_px - 3;
    for (let row = 1; row <= this.count; row++) {
      if (row !== 1 && row % every) continue;
      const text = document.createElementNS(SVG, "text");
      text.setAttribute("class", "n");
      text.setAttribute("x", px(x));
      text.setAttribute("y", px(this.y(row) + 3));
      text.textContent = row;
      svg.append(text);
    }
  }

  y(row) {
    return TOP_PX + (row - 0.5) * this.pitch;
  }

  noteAt(position) {
    for (let i = 0; i < this.facts.lines.length; i++) {
      const note = this.facts.lines[i].notes.find((each) => each.position === position);
      if (note) return { svg: this.svgs[i], x: note.x };
    }
    return null;
  }

  /** Draws one hit: a stick, or a small cross where no note accounts for it. */
  one(hit) {
    if (hit.position === null) {
      this.cross(hit);
      return;
    }
    const at = this.noteAt(hit.position);
    if (!at) return;
    const strength = this.strength(hit.level_db);
    const share = hit.grace ? GRACE_LENGTH : 1;
    const length = this.longest * (SHORTEST + (1 - SHORTEST) * strength) * share;
    const halfX = (length * Math.sin(LEAN)) / 2, halfY = (length * Math.cos(LEAN)) / 2;
    const room = Math.max(0, this.facts.half_px - halfX - EDGE_PX);
    const off = hit.grace ? -GRACE_PX : ((hit.asynchrony_ms ?? this.centreMs) - this.centreMs) * this.pxPerMs;
    const x = at.x + Math.min(room, Math.max(-room, off)), y = this.y(hit.repetition);
    const step = Math.min(WEIGHTS - 1, Math.floor(strength * WEIGHTS));
    const up = hit.hand === "R" ? -1 : 1;
    const data = `M${px(x - halfX)} ${px(y - up * halfY)}l${px(2 * halfX)} ${px(2 * up * halfY)}`;
    const drawn = path(at.svg, hit.hand === "R" ? "r" : "l", data);
    drawn.setAttribute("stroke-width", ((0.06 + (0.1 * step) / (WEIGHTS - 1)) * this.longest + 0.15).toFixed(2));
    if (Math.abs(off) > room && !hit.grace) this.tick(at, y, Math.sign(off), hit.hand);
  }

  get longest() {
    return Math.min((0.98 * this.pitch) / Math.cos(LEAN), (0.9 * this.facts.half_px) / Math.sin(LEAN), LONGEST_PX);
  }

  strength(levelDb) {
    const loudest = this.loudest ?? levelDb;
    const low = Math.min(this.softest ?? levelDb, loudest - RANGE_DB);
    return Math.min(1, Math.max(0, (levelDb - low) / (loudest - low)));
  }

  /** The small arrow head at a column's edge: this one came further out than drawn. */
  tick({ svg, x }, y, side, hand) {
    const tip = x + side * (this.facts.half_px - 0.6), back = -side * TICK_PX;
    const data = `M${px(tip + back)} ${px(y - TICK_PX)}l${px(-back)} ${TICK_PX}l${px(back)} ${TICK_PX}`;
    path(svg, `tick ${hand === "R" ? "r" : "l"}`, data);
  }

  cross(hit) {
    const at = hit.before && this.noteAt(hit.before.position);
    if (!at) return;
    const width = at.svg.viewBox.baseVal.width;
    const x = Math.min(width - 4, at.x + (hit.time_s - hit.before.time_s) * this.pxPerS);
    const y = this.y(hit.before.repetition);
    path(at.svg, "cross", `M${px(x - 2.5)} ${px(y - 2.5)}l5 5M${px(x + 2.5)} ${px(y - 2.5)}l-5 5`);
  }

  /** Rings the notes of a row that is over which were not heard. */
  rings(repetition, row) {
    const heard = new Set(row.marks.filter((hit) => !hit.grace).map((hit) => hit.position));
    const first = Math.min(...this.rows.keys()) === repetition ? Math.min(...heard) : -1;
    const radius = Math.min(4, this.pitch * 0.3);
    for (const { position } of this.facts.lines.flatMap((line) => line.notes)) {
      if (heard.has(position) || position < first) continue;
      const { svg, x } = this.noteAt(position);
      const d = px(2 * radius), r = px(radius), y = px(this.y(repetition));
      path(svg, "ring", `M${px(x - radius)} ${y}a${r} ${r} 0 1 0 ${d} 0a${r} ${r} 0 1 0 -${d} 0`);
    }
  }
}

function path(svg, className, data) {
  const made = document.createElementNS(SVG, "path");
  made.setAttribute("class", className);
  made.setAttribute("d", data);
  svg.append(made);
  return made;
}
