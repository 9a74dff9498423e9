// The click: tones laid ahead on the audio clock, each starting on its own sample.
//
// Its sound is the one that the ear knows to find and take out (src/evenhand/synthesis/click.py).

const TONES_HZ = { first: [3130, 5010], beat: [2350, 3770], between: [1880, 3010] };
const SOFTER = { first: 1, beat: 1, between: 10 ** (-6 / 20) };
const SHARES = [1, 0.8];
const RISE_S = 0.0003, DECAY_S = 0.004, SECONDS = 0.05, FADE_SHARE = 0.2;
const AHEAD_S = 2, LOOK_MS = 200; // far ahead, since a page in the background is called once a second only

/** Returns a click's samples, peak 1. */
export function voice(kind, rate) {
  const out = new Float32Array(Math.round(SECONDS * rate));
  let peak = 0;
  for (let i = 0; i < out.length; i++) {
    const t = (i + 0.5) / rate;
    let tone = 0;
    SHARES.forEach((share, k) => (tone += share * Math.sin(2 * Math.PI * TONES_HZ[kind][k] * t)));
    const into = Math.min(1, Math.max(0, (t / SECONDS - 1 + FADE_SHARE) / FADE_SHARE));
    const rise = Math.sin((Math.PI / 2) * Math.min(t / RISE_S, 1)) ** 2;
    out[i] = tone * rise * Math.exp(-t / DECAY_S) * Math.cos((Math.PI / 2) * into) ** 2;
    peak = Math.max(peak, Math.abs(out[i]));
  }
  return out.map((sample) => sample / peak);
}

function bufferOf(context, kind) {
  const samples = voice(kind, context.sampleRate);
  const buffer = context.createBuffer(1, samples.length, context.sampleRate);
  buffer.copyToChannel(samples, 0);
  return buffer;
}

/** Turns a slider's 0 to 100 into a gain, softly at the low end. */
export function gainOf(volume) {
  return (volume / 100) ** 2 * 0.9;
}

export class Click {
  constructor(context, volume) {
    this.context = context;
    this.gain = context.createGain();
    this.gain.gain.value = gainOf(volume);
    this.gain.connect(context.destination);
    this.buffers = Object.fromEntries(Object.keys(TONES_HZ).map((kind) => [kind, bufferOf(context, kind)]));
    this.laid = new Set();
  }

  set volume(volume) {
    this.gain.gain.setTargetAtTime(gainOf(volume), this.context.currentTime, 0.02);
  }

  /**
   * Lays the clicks of `beats` beats (Infinity: until stopped) from `at` on; `clicksAt(k)` gives those that begin
   * within beat k: what they mark, how far after it, in beats, and their gain.
   */
  start(at, beatS, beats, clicksAt) {
    this.next = 0;
    const look = () => {
      while (this.next < beats && at + this.next * beatS < this.context.currentTime + AHEAD_S) {
        for (const { after, kind, gain } of clicksAt(this.next)) {
          if (this.next + after < beats - 1e-9) this.lay(at + (this.next + after) * beatS, kind, gain);
        }
        this.next++;
      }
      if (this.next >= beats) clearInterval(this.timer);
    };
    this.timer = setInterval(look, LOOK_MS);
    look();
  }

  lay(at, kind, gain) {
    const source = this.context.createBufferSource(), level = this.context.createGain();
    source.buffer = this.buffers[kind];
    level.gain.value = gain * SOFTER[kind];
    source.connect(level).connect(this.gain);
    source.start(at);
    this.laid.add(source);
    source.onended = () => this.laid.delete(source);
  }

  stop() {
    clearInterval(this.timer);
    for (const source of this.laid) source.stop();
    this.laid.clear();
  }
}
