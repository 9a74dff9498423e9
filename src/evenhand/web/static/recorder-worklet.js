// Counts and passes on every sample of the microphone, in blocks of 512 (10.7 ms at 48 kHz).
//
// The context's frame number may jump back and forth under load; the count of samples never does. So each
// block says both, and the reader takes the middle of their differences.

const BLOCK = 512;

class Recorder extends AudioWorkletProcessor {
  constructor() {
    super();
    this.block = new Float32Array(BLOCK);
    this.filled = 0;
    this.count = 0;
    this.going = true;
    this.port.onmessage = ({ data }) => {
      if (data === "stop") this.going = false;
    };
  }

  process([channels]) {
    if (!this.going) {
      this.pass();
      this.port.postMessage({ stopped: true });
      return false;
    }
    const length = channels[0]?.length ?? 128; // no input for a moment is silence: time goes on
    for (let i = 0; i < length; i++) {
      let sum = 0;
      for (const channel of channels) sum += channel[i];
      this.block[this.filled++] = channels.length ? sum / channels.length : 0;
      this.count++;
      if (this.filled === BLOCK) this.pass(currentFrame + i + 1 - this.count);
    }
    return true;
  }

  pass(startFrame = null) {
    if (this.filled === 0) return;
    const samples = this.block.slice(0, this.filled);
    this.port.postMessage({ samples, startFrame }, [samples.buffer]);
    this.filled = 0;
  }
}

registerProcessor("evenhand-recorder", Recorder);
