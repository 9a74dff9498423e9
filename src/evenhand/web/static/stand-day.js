// The day in one go: where one is in it, and the rests between.

/** Which item of those to play, and which go at it. */
export class Place {
  constructor(items) {
    this.items = items;
    this.index = 0;
    this.go = 1;
    this.last = [0, 1];
  }

  /** Notes that this go is played now, so that it can be gone back to. */
  begun() {
    this.last = [this.index, this.go];
  }

  /** Goes back to the go that was played last. */
  back() {
    [this.index, this.go] = this.last;
  }

  /** The item that is played now, or null when all are. */
  get item() {
    return this.items[this.index] ?? null;
  }

  /** Goes on: to the next go, or to the next item. Returns the seconds of rest before it, null at the end. */
  onward() {
    const { goes, pause_s, rest_s } = this.item;
    if (this.go < goes) {
      this.go++;
      return pause_s;
    }
    return this.skip() ? rest_s : null;
  }

  /** Goes to the next item; false where there is none. */
  skip() {
    this.index++;
    this.go = 1;
    return this.item !== null;
  }
}

const TICK_HZ = 660, TICK_S = 0.04, TICK_GAIN = 0.06;

/** Sounds one tone that dies away, so many seconds from now. */
export function sound(context, hz, seconds, loudness, later = 0) {
  const at = context.currentTime + later, tone = context.createOscillator(), gain = context.createGain();
  tone.frequency.value = hz;
  gain.gain.setValueAtTime(loudness, at);
  gain.gain.exponentialRampToValueAtTime(loudness / 100, at + seconds);
  tone.connect(gain).connect(context.destination);
  tone.start(at);
  tone.stop(at + seconds);
}

/** Ticks softly, unlike a click: so the last seconds of a rest are heard. */
export function tick(context) {
  sound(context, TICK_HZ, TICK_S, TICK_GAIN);
}

/** A rest that counts down, and ends sooner where the player says so. */
export class Rest {
  /** `shown(seconds)` gets what is left, each second; null when it no longer counts. */
  constructor(shown) {
    this.shown = shown;
  }

  /** Resolves to "on" after so many seconds, or to what was chosen before. */
  wait(seconds) {
    this.endsAt = performance.now() + 1000 * seconds;
    const chosen = new Promise((done) => (this.done = done));
    this.tick();
    return chosen;
  }

  tick() {
    const left = (this.endsAt - performance.now()) / 1000;
    if (left <= 0) this.choose("on");
    else if (left < Infinity) {
      this.shown(Math.ceil(left));
      this.timer = setTimeout(() => this.tick(), 1000 * (left - Math.ceil(left) + 1));
    }
  }

  /** Counts no further; it goes on when it is chosen. */
  hold() {
    clearTimeout(this.timer);
    this.shown(null);
  }

  choose(choice) {
    this.hold();
    this.done?.(choice);
    this.done = null;
  }
}
