// The microphone as counted samples on the clock that the click runs on.

/** Why there is no microphone; `kind` is a key of the catalogue. */
export class Trouble extends Error {
  constructor(kind, reason = "") {
    super(reason);
    this.kind = kind;
  }
}

const KINDS = {
  NotAllowedError: "mic_refused",
  SecurityError: "mic_refused",
  NotFoundError: "mic_none",
  OverconstrainedError: "mic_none",
  NotReadableError: "mic_busy",
  AbortError: "mic_busy",
};

/** Opens the microphone with all processing off: it would move and level what is to be measured. */
export async function openMicrophone() {
  if (!window.isSecureContext || !navigator.mediaDevices?.getUserMedia) throw new Trouble("mic_insecure");
  const audio = { echoCancellation: false, noiseSuppression: false, autoGainControl: false };
  try {
    return await navigator.mediaDevices.getUserMedia({ audio: { ...audio, channelCount: { ideal: 1 } } });
  } catch (error) {
    throw new Trouble(KINDS[error.name] ?? "mic_other", error.name);
  }
}

/** Shuts the microphone. */
export function shut(stream) {
  stream?.getTracks().forEach((track) => track.stop());
}

/** Resolves to what lets go again; one page of the stand records at a time. */
export function holdMicrophone() {
  if (!navigator.locks) return Promise.resolve(() => {});
  return new Promise((done, fail) => {
    navigator.locks.request("evenhand-microphone", { ifAvailable: true }, (held) => {
      if (held) return new Promise(done);
      fail(new Trouble("mic_tab"));
      return undefined;
    });
  });
}

const WARM_BLOCKS = 8;

export class Recorder {
  /** `heard(samples)` gets each block; `ended()` is called when the microphone goes away. */
  constructor(context, stream, heard, ended = () => {}) {
    this.context = context;
    this.stream = stream;
    this.heard = heard;
    this.ended = ended;
    this.samples = 0;
    this.starts = [];
  }

  /** Resolves when samples come in steadily, so that the first sample's place on the clock is known. */
  async start() {
    await this.context.audioWorklet.addModule("/static/recorder-worklet.js");
    this.source = this.context.createMediaStreamSource(this.stream);
    this.node = new AudioWorkletNode(this.context, "evenhand-recorder", { numberOfOutputs: 1 });
    this.silence = this.context.createGain();
    this.silence.gain.value = 0;
    const warm = new Promise((done) => (this.warm = done));
    const stopped = new Promise((done) => (this.stopped = done));
    this.over = stopped;
    this.node.port.onmessage = ({ data }) => this.take(data);
    this.track = this.stream.getAudioTracks()[0];
    this.gone = () => this.ended();
    this.track.addEventListener("ended", this.gone);
    this.source.connect(this.node).connect(this.silence).connect(this.context.destination);
    await warm;
  }

  take({ samples, startFrame, stopped }) {
    if (stopped) {
      this.stopped();
      return;
    }
    if (startFrame !== null && this.starts.length < 400) this.starts.push(startFrame);
    this.samples += samples.length;
    if (this.starts.length === WARM_BLOCKS) this.warm();
    this.heard(samples);
  }

  /** Returns the context's frame at which the recording's first sample was taken. */
  get startFrame() {
    const sorted = [...this.starts].sort((a, b) => a - b);
    return sorted[sorted.length >> 1] ?? 0;
  }

  /** Returns where in the recording a moment of the context's clock lies, in seconds. */
  secondsAt(contextTime) {
    return contextTime - this.startFrame / this.context.sampleRate;
  }

  /** Stops recording; the microphone stays open for the next take. */
  async stop() {
    this.track.removeEventListener("ended", this.gone);
    this.node.port.postMessage("stop");
    await Promise.race([this.over, new Promise((done) => setTimeout(done, 500))]);
    this.source.disconnect();
    this.node.disconnect();
  }
}
