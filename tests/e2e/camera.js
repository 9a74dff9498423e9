// A camera that films the take that microphone.js plays: two bands of tape that come down at its notes.
// Put in place after microphone.js. `__NOTES__` is replaced: { R: [seconds of the take], L: [...] }.
(() => {
  const notes = __NOTES__;
  const WIDTH = 480, HEIGHT = 320, PAD_TOP = 220, PX_PER_CM = 6, TOP_CM = 20;
  const microphone = navigator.mediaDevices.getUserMedia;
  navigator.mediaDevices.getUserMedia = async (asked) => (asked?.video ? camera() : microphone(asked));

  /** How high a stick is, cm: a parabola from each of its notes to the next. */
  function height(own, at) {
    const after = own.findIndex((time) => time > at);
    const from = after < 0 ? own.at(-1) : after === 0 ? own[0] - 0.5 : own[after - 1];
    const to = after < 0 ? from + 0.5 : own[after];
    const share = Math.min(1, Math.max(0, (at - from) / (to - from)));
    return 4 * TOP_CM * share * (1 - share);
  }

  function draw(drawing) {
    const { fed } = window;
    const at = fed.beganAt === undefined ? -1 : fed.contexts.at(-1).currentTime - fed.beganAt;
    drawing.fillStyle = "rgb(150,148,146)";
    drawing.fillRect(0, 0, WIDTH, HEIGHT);
    drawing.fillStyle = "rgb(60,62,66)";
    drawing.beginPath();
    drawing.ellipse(260, PAD_TOP + 10, 90, 10, 0, 0, 7);
    drawing.fill();
    drawing.fillRect(170, PAD_TOP + 10, 180, 24);
    for (const [hand, x, colour] of [["R", 255, "rgb(20,70,210)"], ["L", 261, "rgb(30,170,60)"]]) {
      drawing.fillStyle = colour;
      drawing.fillRect(x - 8, PAD_TOP + 2 - PX_PER_CM * height(notes[hand], at) - (hand === "L" && at < 0 ? 12 : 0), 16, 8);
    }
  }

  async function camera() {
    const canvas = Object.assign(document.createElement("canvas"), { width: WIDTH, height: HEIGHT });
    const drawing = canvas.getContext("2d");
    draw(drawing);
    setInterval(() => draw(drawing), 15);
    return canvas.captureStream(60);
  }
})();
