// A voice note of up to a minute: recorded here, listened to, and sent with its form like any file.
//
// It is made small before it is sent: 16 kHz is enough for a voice, and every browser plays a plain WAV.

import { Recorder, holdMicrophone, openMicrophone, shut } from "./recorder.js";
import { peakOf, wavOf } from "./stand-wav.js";
import { WORDS } from "./stand-words.js";

const MOST_S = 60, LEAST_S = 0.5, RATE = 16_000, SILENT = 0.0016; // of full scale, -56 dB
const SAYS = {
  record: "Record a voice note",
  again: "Record it again",
  stop: "Stop",
  speaking: "Recording: {at} of 1:00",
  made: "{at}. Listen to it, then send it with the button below.",
  short: "That was too short.",
  silent: "Nothing but silence came from the microphone. Is it covered, or switched off?",
};

const minutes = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;

class Voice {
  constructor(place) {
    const part = (name) => place.querySelector(`[data-act=${name}]`);
    this.button = part("record");
    this.player = part("listen");
    this.dropping = part("drop");
    this.state = place.querySelector("[data-state]");
    this.file = place.querySelector("input[type=file]");
    this.chunks = null;
    this.button.addEventListener("click", () => (this.chunks ? this.stop() : this.begin()));
    this.dropping.addEventListener("click", () => this.drop());
    place.hidden = false;
  }

  async begin() {
    this.button.disabled = true;
    try {
      this.context = new AudioContext(); // before anything is waited for: phones let a page sound only then
      await this.context.resume();
      this.letGo = await holdMicrophone();
      this.stream = await openMicrophone();
      this.drop();
      this.chunks = [];
      this.count = 0;
      this.recorder = new Recorder(this.context, this.stream, (samples) => this.grow(samples), () => this.stop());
      await this.recorder.start();
      document.body.classList.add("speaking");
      this.button.textContent = SAYS.stop;
    } catch (error) {
      this.chunks = null;
      this.close();
      this.state.textContent = (WORDS[error.kind] ?? WORDS.mic_other).replace("{reason}", error.message);
    }
    this.button.disabled = false;
  }

  grow(samples) {
    if (!this.chunks) return;
    this.chunks.push(samples);
    this.count += samples.length;
    const at = this.count / this.context.sampleRate;
    const words = SAYS.speaking.replace("{at}", minutes(at));
    if (this.state.textContent !== words) this.state.textContent = words;
    if (at >= MOST_S) this.stop();
  }

  async stop() {
    if (!this.chunks) return;
    const { chunks, count } = this, rate = this.context.sampleRate;
    this.chunks = null;
    await this.recorder.stop();
    this.close();
    const silent = chunks.every((samples) => peakOf(samples) < SILENT);
    if (silent || count < LEAST_S * rate) {
      this.state.textContent = silent ? SAYS.silent : SAYS.short;
      return;
    }
    this.keep(await smaller(chunks, Math.min(count, MOST_S * rate), rate));
  }

  keep(samples) {
    const wav = wavOf([samples], RATE), files = new DataTransfer();
    files.items.add(new File([wav], "voice.wav", { type: "audio/wav" }));
    this.file.files = files.files;
    this.player.src = URL.createObjectURL(wav);
    this.player.hidden = this.dropping.hidden = false;
    this.button.textContent = SAYS.again;
    this.state.textContent = SAYS.made.replace("{at}", minutes(samples.length / RATE));
  }

  drop() {
    this.file.value = "";
    if (this.player.src) URL.revokeObjectURL(this.player.src);
    this.player.removeAttribute("src");
    this.player.hidden = this.dropping.hidden = true;
    this.button.textContent = SAYS.record;
    this.state.textContent = "";
  }

  close() {
    document.body.classList.remove("speaking");
    this.button.textContent = SAYS.record;
    shut(this.stream);
    this.context?.close();
    this.letGo?.();
  }
}

/** Returns `count` of the samples at 16 kHz. */
async function smaller(chunks, count, rate) {
  const offline = new OfflineAudioContext(1, Math.floor((count / rate) * RATE), RATE);
  const buffer = offline.createBuffer(1, count, rate);
  let at = 0;
  for (const samples of chunks) {
    buffer.copyToChannel(samples.subarray(0, count - at), 0, at);
    at = Math.min(count, at + samples.length);
  }
  const source = offline.createBufferSource();
  source.buffer = buffer;
  source.connect(offline.destination);
  source.start();
  return (await offline.startRendering()).getChannelData(0);
}

document.querySelectorAll("[data-voice]").forEach((place) => new Voice(place));
