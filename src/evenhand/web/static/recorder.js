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

const PROCESSING = { echoCancellation: "echo", noiseSuppression: "noise", autoGainControl: "gain" };

/** Names the processing that is on although it was switched off; of what a browser does not tell, nothing. */
export function processingOf(stream) {
  const [track] = stream.getAudioTracks(), set = track?.getSettings?.() ?? {};
  return Object.keys(PROCESSING)
    .filter((name) => set[name] === true || typeof set[name] === "string")
    .map((name) => PROCESSING[name])
    .join(",");
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

const LOST = ["ended", "mute"]; // unplugged, or lent to a call
const WARM_BLOCKS = 8, OLD_BLOCK = 1024;

/** Makes the node that passes samples on: in the thread of the sound, or in the page's where there is no other. */
async function makeNode(context) {
  if (!context.audioWorklet) return oldNode(context);
  await context.audioWorklet.addModule("/static/recorder-worklet.js");
  return new AudioWorkletNode(context, "evenhand-recorder", { numberOfOutputs: 1 });
}

/** Does as the worklet does; what the page was too busy for is silence, so that time goes on. */
function oldNode(context) {
  const node = context.createScriptProcessor(OLD_BLOCK, 1, 1);
  let count = 0, first = null, told = null;
  node.onaudioprocess = ({ inputBuffer, playbackTime }) => {
    const frame = Math.round(playbackTime * context.sampleRate) - OLD_BLOCK;
    first ??= frame;
    const lost = frame - first - count >= OLD_BLOCK ? frame - first - count : 0;
    const samples = new Float32Array(lost + OLD_BLOCK);
    samples.set(inputBuffer.getChannelData(0), lost);
    count += samples.length;
    told?.({ data: { samples, startFrame: first } });
  };
  node.port = {
    set onmessage(act) {
      told = act;
    },
    postMessage() {
      told?.({ data: { stopped: true } });
      told = null;
    },
  };
  return node;
}

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
    this.node = await makeNode(this.context);
    this.source = this.context.createMediaStreamSource(this.stream);
    this.silence = this.context.createGain();
    this.silence.gain.value = 0;
    const warm = new Promise((done) => (this.warm = done));
    const stopped = new Promise((done) => (this.stopped = done));
    this.over = stopped;
    this.node.port.onmessage = ({ data }) => this.take(data);
    this.track = this.stream.getAudioTracks()[0];
    this.gone = () => this.ended();
    for (const end of LOST) this.track.addEventListener(end, this.gone);
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
    for (const end of LOST) this.track.removeEventListener(end, this.gone);
    this.node.port.postMessage("stop");
    await Promise.race([this.over, new Promise((done) => setTimeout(done, 500))]);
    this.source.disconnect();
    this.node.disconnect();
  }
}
