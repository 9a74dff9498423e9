// The live ear's socket: blocks of the microphone out, hits in. Where it fails, only the live picture does.

import { sixteenBit } from "./stand-wav.js";

const MOST_WAITING = 1 << 20; // bytes on their way: beyond that the line is too slow to be live

export class Live {
  /** `begin` is the first message; `heard(hits)` gets what was heard, `said(key)` what is to be said of the marks. */
  constructor(begin, heard, said) {
    const scheme = location.protocol === "https:" ? "wss" : "ws";
    this.waiting = [];
    this.ready = this.over = false;
    try {
      this.socket = new WebSocket(`${scheme}://${location.host}/stand/live`);
    } catch {
      return said("marks_gone");
    }
    this.socket.binaryType = "arraybuffer";
    this.socket.onopen = () => this.socket.send(JSON.stringify(begin));
    this.socket.onmessage = ({ data }) => {
      const told = JSON.parse(data);
      if (told.ready) this.flush();
      if (told.hits) heard(told.hits);
      if ("late" in told) said(told.late ? "marks_late" : "live_caption");
    };
    this.socket.onclose = this.socket.onerror = () => {
      if (!this.over) said("marks_gone");
      this.give();
    };
  }

  push(samples) {
    if (!this.socket) return;
    if (!this.ready) this.waiting.push(samples);
    else if (this.socket.bufferedAmount > MOST_WAITING) this.socket.close();
    else this.socket.send(sixteenBit(samples));
  }

  flush() {
    this.ready = true;
    for (const samples of this.waiting) this.socket.send(sixteenBit(samples));
    this.waiting = [];
  }

  end() {
    this.over = true;
    if (this.ready && this.socket?.readyState === WebSocket.OPEN) this.socket.send('{"end": true}');
    else this.socket?.close();
    this.give();
  }

  give() {
    this.socket = null;
    this.waiting = [];
  }
}
