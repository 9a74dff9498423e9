// Play a take from its picture: a click or the keyboard chooses a note and a repetition, the sound follows.
// data-places on #heard holds rows [repetition, start_s, end_s], hits [time_s, row, position], and the places
// of columns and rows in each layout (report/take/places.py).

const LEAD_S = 0.12; // so that the stroke itself is heard, not its tail
const SVG = "http://www.w3.org/2000/svg";

const player = document.querySelector("[data-player]");
let take = null;

function begin() {
  const heard = document.getElementById("heard");
  if (!heard || !heard.dataset.places || (take && take.heard === heard)) return;
  take = new PlayedTake(heard, player);
}

class PlayedTake {
  constructor(heard, bar) {
    this.heard = heard;
    this.places = JSON.parse(heard.dataset.places);
    this.audio = bar.querySelector("audio");
    this.place = bar.querySelector("[data-place]");
    this.playButton = bar.querySelector("[data-act=play]");
    this.loop = bar.querySelector("[data-act=loop]");
    this.at = 0; // the hit that is chosen
    this.layers = [];
    bar.querySelector(".controls").hidden = false;
    this.place.hidden = false;
    this.place.setAttribute("aria-valuemax", this.places.hits.length);
    this.layOver();
    this.listen(bar);
    this.choose(0);
  }

  // Put a layer of marks over every line of music, and take clicks there.
  layOver() {
    for (const [look, blocks] of Object.entries(this.places.looks)) {
      const svgs = this.heard.querySelectorAll(`.layout.${look} svg.block`);
      blocks.forEach((block, i) => {
        const svg = svgs[i];
        if (!svg) return;
        const here = mark("rect", "here");
        const sounding = mark("circle", "sounding");
        const xs = Object.values(block.xs);
        here.setAttribute("x", Math.min(...xs) - block.half);
        here.setAttribute("width", Math.max(...xs) - Math.min(...xs) + 2 * block.half);
        here.setAttribute("height", block.pitch);
        sounding.setAttribute("r", Math.max(3, Math.min(9, block.pitch / 2)));
        svg.append(here, sounding);
        svg.addEventListener("click", (event) => this.clicked(event, svg, block));
        this.layers.push({ block, here, sounding });
      });
    }
  }

  listen(bar) {
    this.audio.addEventListener("play", () => this.follow());
    this.audio.addEventListener("pause", () => this.show());
    this.playButton.addEventListener("click", () => (this.audio.paused ? this.play() : this.audio.pause()));
    this.loop.addEventListener("change", () => this.show());
    bar.querySelector("[data-act=rate]").addEventListener("change", (event) => {
      this.audio.playbackRate = Number(event.target.value);
    });
    const correct = bar.querySelector("[data-act=correct]");
    correct.hidden = !document.querySelector("[data-correct]");
    correct.addEventListener("click", () => this.correct());
    this.place.addEventListener("keydown", (event) => this.key(event));
    for (const button of this.heard.querySelectorAll("[data-time]")) {
      button.addEventListener("click", () => {
        this.choose(this.firstOf(Number(button.dataset.row)));
        this.play();
      });
    }
  }

  clicked(event, svg, block) {
    const box = svg.getBoundingClientRect();
    const scale = svg.viewBox.baseVal.width / box.width;
    const x = (event.clientX - box.left) * scale;
    const y = (event.clientY - box.top) * scale;
    const row = nearest(block.ys, y);
    if (Math.abs(block.ys[row] - y) > 2 * block.pitch) return;
    const positions = Object.keys(block.xs).map(Number);
    const position = positions[nearest(positions.map((each) => block.xs[each]), x)];
    const hit = this.hitNear(row, position);
    if (hit < 0) return;
    this.choose(hit);
    this.play();
  }

  // The row's hit at this note, or the next after it that was heard.
  hitNear(row, position) {
    const own = this.places.hits.map((hit, i) => [hit, i]).filter(([hit]) => hit[1] === row);
    const found = own.find(([hit]) => hit[2] >= position) || own[own.length - 1];
    return found ? found[1] : -1;
  }

  firstOf(row) {
    return Math.max(0, this.places.hits.findIndex((hit) => hit[1] === row));
  }

  key(event) {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    const rows = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    const last = this.places.hits.length - 1;
    if (step) this.choose(Math.min(last, Math.max(0, this.at + step)));
    else if (rows) this.choose(this.sameNote(rows));
    else if (event.key === "Home") this.choose(0);
    else if (event.key === "End") this.choose(last);
    else if (event.key === "Enter" || event.key === " ") this.audio.paused ? this.play() : this.audio.pause();
    else if (event.key === "l" || event.key === "L") this.loop.checked = !this.loop.checked;
    else return;
    event.preventDefault();
    this.show();
  }

  sameNote(by) {
    const [, row, position] = this.places.hits[this.at];
    for (let next = row + by; next >= 0 && next < this.places.rows.length; next += by) {
      const found = this.hitNear(next, position);
      if (found >= 0) return found;
    }
    return this.at;
  }

  choose(index) {
    this.at = index;
    const [time, row, position] = this.places.hits[index];
    const words = this.place.dataset.words
      .replace("{row}", this.places.rows[row][0])
      .replace("{note}", position + 1)
      .replace("{hand}", this.places.hands[position])
      .replace("{seconds}", time.toFixed(2));
    this.place.textContent = words;
    this.place.setAttribute("aria-valuenow", index + 1);
    this.place.setAttribute("aria-valuetext", words);
    this.fill(time, this.places.rows[row][0], position);
    this.show();
  }

  // Open the form that puts a hit right, with the hit that is chosen.
  correct() {
    const form = document.querySelector("[data-correct]");
    this.audio.pause();
    form.closest("details").open = true;
    const [time, row, position] = this.places.hits[this.at];
    this.fill(time, this.places.rows[row][0], position);
    if (form.elements.at) form.elements.at.value = this.audio.currentTime.toFixed(2);
    form.elements.hit.focus({ preventScroll: true });
  }

  // Let the form that puts a hit right follow the picture.
  fill(time, repetition, position) {
    const form = document.querySelector("[data-correct]");
    if (!form || !form.closest("details").open) return;
    const options = [...form.elements.hit.options];
    const found = options[nearest(options.map((each) => Number(each.value)), time)];
    if (found && Math.abs(Number(found.value) - time) < 0.001) form.elements.hit.value = found.value;
    form.elements.repetition.value = repetition;
    form.elements.note.value = position + 1;
  }

  play() {
    this.audio.currentTime = Math.max(0, this.places.hits[this.at][0] - LEAD_S);
    this.audio.play().catch(() => this.show()); // stopped before it began, or not allowed: the bar shows it
  }

  // While it sounds, the mark goes with it; a looped repetition begins again at its end.
  follow() {
    if (this.audio.paused) return this.show();
    const now = this.audio.currentTime;
    const index = this.hitAt(now + 0.02);
    const [, start, end] = this.places.rows[this.places.hits[this.at][1]];
    if (this.loop.checked && (now >= end || now < start - 2 * LEAD_S)) {
      this.audio.currentTime = Math.max(0, start - LEAD_S);
    } else if (index >= 0 && index !== this.at && !(this.loop.checked && this.rowOf(index) !== this.rowOf(this.at))) {
      this.choose(index);
    }
    requestAnimationFrame(() => this.follow());
  }

  rowOf(index) {
    return this.places.hits[index][1];
  }

  hitAt(time) {
    let low = 0;
    let high = this.places.hits.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.places.hits[middle][0] <= time) low = middle + 1;
      else high = middle;
    }
    return low - 1;
  }

  show() {
    const [, row, position] = this.places.hits[this.at];
    for (const { block, here, sounding } of this.layers) {
      here.setAttribute("y", block.ys[row] - block.pitch / 2);
      here.classList.toggle("looped", this.loop.checked);
      const x = block.xs[position];
      sounding.setAttribute("visibility", x === undefined ? "hidden" : "visible");
      if (x !== undefined) sounding.setAttribute("cx", x);
      sounding.setAttribute("cy", block.ys[row]);
    }
    const words = this.playButton.dataset;
    words.play = words.play || this.playButton.textContent;
    this.playButton.textContent = this.audio.paused ? words.play : words.stop || words.play;
  }
}

function mark(name, look) {
  const made = document.createElementNS(SVG, name);
  made.setAttribute("class", look);
  made.setAttribute("aria-hidden", "true");
  return made;
}

function nearest(values, wanted) {
  let best = 0;
  values.forEach((value, i) => {
    if (Math.abs(value - wanted) < Math.abs(values[best] - wanted)) best = i;
  });
  return best;
}

if (player) {
  begin();
  document.body.addEventListener("htmx:afterSettle", begin);
}
