// What comes next, said in a rest: by a voice that is made on this device, else by a chime.

import { sound } from "./stand-day.js";
import { store, stored } from "./stand-settings.js";

const KEY = "speaks", OFF = "no";
const CHIME_HZ = [660, 880], CHIME_S = 0.5, CHIME_APART_S = 0.18, CHIME_GAIN = 0.08;

/** A voice in the page's language that needs no network: what somebody practises goes nowhere. */
function localVoice() {
  const voices = globalThis.speechSynthesis?.getVoices() ?? [];
  const language = document.documentElement.lang.slice(0, 2);
  const fitting = voices.filter((voice) => voice.localService && voice.lang.slice(0, 2) === language);
  return fitting.find((voice) => voice.default) ?? fitting[0] ?? null;
}

export class Voice {
  /** `box` is ticked where it is to speak; `context()` gives the sound of the page. */
  constructor(box, context) {
    this.box = box;
    this.context = context;
    box.checked = stored(KEY) !== OFF;
    box.addEventListener("change", () => {
      store(KEY, box.checked ? "yes" : OFF);
      if (!box.checked) this.hush();
    });
    localVoice(); // some browsers look for their voices only once they are asked
  }

  /** Says some words, where there are any, until something is over; returns what that comes to. */
  async during(over, words) {
    if (words) this.say(words);
    const found = await over;
    this.hush();
    return found;
  }

  /** Says some words, or chimes where it is not to speak or cannot. */
  say(words) {
    this.hush();
    const voice = this.box.checked ? localVoice() : null;
    if (!voice) return this.chime();
    const said = new SpeechSynthesisUtterance(words);
    said.voice = voice;
    said.lang = voice.lang;
    speechSynthesis.speak(said);
  }

  /** Says no more: a count-in begins. */
  hush() {
    globalThis.speechSynthesis?.cancel();
  }

  chime() {
    CHIME_HZ.forEach((hz, index) => sound(this.context(), hz, CHIME_S, CHIME_GAIN, index * CHIME_APART_S));
  }
}
