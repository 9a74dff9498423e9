// A microphone that plays a take of ours at a known moment: its first note on the first beat after the count-in.
// Put in place before the page's own scripts. `__TAKE__` is replaced: { rate, base64, firstNoteS } or null.
(() => {
  const take = __TAKE__;
  const fed = (window.fed = { contexts: [], notesAt: null, opened: 0 });
  const Original = window.AudioContext;
  window.AudioContext = class extends Original {
    constructor(...options) {
      super(...options);
      fed.contexts.push(this);
    }
  };
  navigator.mediaDevices.getUserMedia = async () => {
    const context = fed.contexts.at(-1);
    fed.out = context.createMediaStreamDestination();
    fed.opened++;
    fed.openedAt = context.currentTime;
    fed.laid = 0;
    const { drops } = JSON.parse(document.getElementById("practice")?.dataset.practice ?? "{}");
    if (take && drops) lay(context, context.currentTime + 1 + take.firstNoteS); // no click says when
    return fed.out.stream;
  };
  const start = AudioBufferSourceNode.prototype.start;
  AudioBufferSourceNode.prototype.start = function (when, ...rest) {
    start.call(this, when, ...rest);
    if (!take || fed.quiet || !fed.out || when < (fed.laid || 0)) return;
    const facts = JSON.parse(document.getElementById("practice").dataset.practice);
    const first = when + (facts.count_in * 60) / facts.bpm; // this was the first click, of a take or of the next one
    fed.laid = first + ((facts.repetitions ?? Infinity) * facts.beats * 60) / facts.bpm + 0.05;
    lay(this.context, first);
  };

  function lay(context, firstAt) {
    const bytes = Uint8Array.from(atob(take.base64), (letter) => letter.charCodeAt(0));
    const whole = new Int16Array(bytes.buffer);
    const buffer = context.createBuffer(1, whole.length, take.rate);
    buffer.copyToChannel(Float32Array.from(whole, (sample) => sample / 32768), 0);
    const source = context.createBufferSource();
    source.buffer = buffer;
    source.connect(fed.out);
    fed.beganAt = firstAt - take.firstNoteS; // of the context's clock
    start.call(source, fed.beganAt);
  }
})();
