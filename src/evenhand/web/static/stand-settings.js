// What the player sets: tempo, where the click sounds and how loud, and the measured delay of this device.

import { measureDelay } from "./latency.js";
import { deviceAt, post, say } from "./stand-page.js";
import { Trouble } from "./recorder.js";

const LOUD_AT_FIRST = { headphones: 25, room: 55, "count-in": 55, off: 0 }; // of 100: low, to be turned up
const ANOTHER_WAY_S = 0.08, LONG_MS = 150; // wireless headphones add 100 ms and more (from memory)
const STORE = "evenhand-stand-";

const element = (id) => document.getElementById(id);

/** Returns a step between tempos worth setting a click to: about 2 %. */
export function stepOf(bpm) {
  return bpm < 80 ? 1 : bpm < 160 ? 2 : 4;
}

/** Returns the next tempo up or down, on whole steps. */
export function stepped(bpm, up) {
  const step = stepOf(up ? bpm : bpm - 0.01);
  return Math.round(bpm / step) * step + (up ? step : -step);
}

export function stored(key) {
  try {
    return localStorage.getItem(STORE + key);
  } catch {
    return null;
  }
}

export function store(key, value) {
  try {
    localStorage.setItem(STORE + key, value);
  } catch {
    // a browser that keeps nothing: it holds for this page
  }
}

export class Settings {
  /** `told` are the page's: volume(value), context(), idle(), changed(). */
  constructor(facts, told) {
    this.facts = facts;
    this.told = told;
    this.bpm = facts.bpm;
    this.volumes = { ...LOUD_AT_FIRST, ...JSON.parse(stored("volumes") ?? "{}") };
    this.deviceId = stored("device") ?? "";
    this.latencyMs = facts.devices[this.deviceId] ?? null;
    this.spreadMs = stored("spread");
    this.bindTempo();
    this.bindClick();
    this.bindDelay();
  }

  /** Turns to another item, and its tempo. */
  turnTo(facts) {
    this.facts = facts;
    this.set(facts.bpm);
  }

  /** Sets the tempo, as far as the exercise can be played. */
  set(bpm) {
    this.bpm = Math.min(this.facts.fastest, Math.max(this.facts.slowest, bpm));
    element("tempo").textContent = `${this.facts.beat} = ${this.bpm}`;
  }

  get tempo() {
    return this.facts.exercise ? `${this.facts.beat}=${this.bpm}` : ""; // a tempo is an exercise's
  }

  /** Where the click sounds; drops fall without one. */
  get place() {
    return this.facts.drops ? "off" : this.chosen;
  }

  get chosen() {
    return document.querySelector("input[name=place]:checked").value;
  }

  get volume() {
    return this.volumes[this.chosen];
  }

  /** Which clicks sound, as one line; what is drawn is drawn anew each time. */
  get pattern() {
    const chosen = this.place === "count-in" || this.place === "off" ? "" : element("pattern").value;
    return chosen.startsWith("drawn=") ? `${chosen}:${Math.floor(Math.random() * 1e6)}` : chosen;
  }

  /** Seconds to wait longer at the end, so that the last stroke has come in. */
  get laterS() {
    return (this.latencyMs ?? 150) / 1000;
  }

  /** Tells whether the sound goes out another way than when the delay was measured, as far as a browser says it. */
  get elsewhere() {
    const now = this.told.context().outputLatency, then = Number(stored("output"));
    return now > 0 && then > 0 && Math.abs(now - then) > ANOTHER_WAY_S;
  }

  /** What is sent with a take about this device; nothing where what was measured no longer holds. */
  get device() {
    if (!this.deviceId || this.elsewhere) return {};
    return this.spreadMs ? { device: this.deviceId, spread_ms: this.spreadMs } : { device: this.deviceId };
  }

  bindTempo() {
    const turn = (up) => {
      if (!this.told.idle()) return;
      this.set(stepped(this.bpm, up));
      this.told.changed();
    };
    element("slower").addEventListener("click", () => turn(false));
    element("faster").addEventListener("click", () => turn(true));
  }

  bindClick() {
    const slider = element("volume");
    const show = () => {
      slider.value = this.volume;
      slider.disabled = this.chosen === "off";
      this.showDelay();
      this.told.changed();
    };
    const last = document.querySelector(`input[name=place][value="${stored("place")}"]`);
    if (last) last.checked = true;
    for (const radio of document.querySelectorAll("input[name=place]")) {
      radio.addEventListener("change", () => {
        store("place", this.chosen);
        show();
      });
    }
    slider.addEventListener("input", () => {
      this.volumes[this.chosen] = Number(slider.value);
      store("volumes", JSON.stringify(this.volumes));
      this.told.volume(this.volume);
    });
    slider.value = this.volume;
    slider.disabled = this.chosen === "off";
    this.bindPattern();
  }

  bindPattern() {
    const select = element("pattern");
    select.value = stored("pattern") ?? "";
    if (select.selectedIndex < 0) select.value = "";
    select.addEventListener("change", () => store("pattern", select.value));
  }

  bindDelay() {
    element("delay")?.addEventListener("click", () => this.measure());
    this.showDelay();
  }

  showDelay() {
    const words =
      this.latencyMs === null ? say("offset_unknown") : say("offset_known", { ms: Math.round(this.latencyMs) });
    element("delay-state").textContent = this.place === "headphones" || this.latencyMs !== null ? `· ${words}` : "";
  }

  async measure() {
    if (!this.told.idle()) return;
    const said = element("delay-said");
    element("delay").disabled = true;
    said.textContent = say("delay_playing");
    try {
      const context = this.told.context();
      await context.resume();
      said.textContent = await this.keep(await measureDelay(context));
    } catch (error) {
      const known = error instanceof Trouble;
      said.textContent = known ? say(error.kind, { reason: error.message }) : say("delay_unsaved");
    }
    element("delay").disabled = false;
    this.showDelay();
  }

  /** Saves a measured delay, and returns what to say. */
  async keep({ latencyMs, spreadMs, heard }) {
    if (latencyMs === null) return say("delay_unclear", { n: heard });
    const form = new FormData();
    form.append("device", this.deviceId);
    form.append("label", deviceWords());
    form.append("latency_ms", latencyMs.toFixed(2));
    const kept = await post(deviceAt, form);
    this.deviceId = kept.id;
    this.latencyMs = kept.latency_ms;
    this.spreadMs = spreadMs.toFixed(2);
    store("device", kept.id);
    store("spread", this.spreadMs);
    store("output", this.told.context().outputLatency || 0);
    const facts = { ms: latencyMs.toFixed(0), spread: spreadMs.toFixed(1), n: heard };
    return `${say("delay_done")} ${say("offset", facts)}${latencyMs > LONG_MS ? ` ${say("delay_long")}` : ""}`;
  }
}

/** Returns what kind of device this is, as roughly as the browser says it. */
function deviceWords() {
  const system = navigator.userAgentData?.platform ?? navigator.platform ?? "";
  return `${system || "device"}, ${matchMedia("(pointer: coarse)").matches ? "touch" : "desk"}`;
}
