// Samples as a WAV file: 16 bit, or floats where the take is so soft that 16 bit would round its strokes.

const SOFT = 0.03; // full scale: below that peak, a stroke's beginning is no more than a few steps of 16 bit

/** Returns a Blob of type audio/wav; `chunks` are Float32Array, mono. */
export function wavOf(chunks, rate) {
  const count = chunks.reduce((sum, chunk) => sum + chunk.length, 0);
  const peak = chunks.reduce((most, chunk) => Math.max(most, peakOf(chunk)), 0);
  const floats = peak < SOFT;
  const bytes = floats ? 4 : 2;
  const parts = [header(count * bytes, rate, bytes, floats ? 3 : 1)];
  for (const chunk of chunks) parts.push(floats ? chunk : sixteenBit(chunk));
  return new Blob(parts, { type: "audio/wav" });
}

export function peakOf(samples) {
  let most = 0;
  for (let i = 0; i < samples.length; i++) most = Math.max(most, Math.abs(samples[i]));
  return most;
}

/** Rounds to 16 bit, little-endian as every browser's machine is. */
export function sixteenBit(samples) {
  const out = new Int16Array(samples.length);
  for (let i = 0; i < samples.length; i++) {
    out[i] = Math.max(-32768, Math.min(32767, Math.round(samples[i] * 32768)));
  }
  return out;
}

function header(dataBytes, rate, bytes, format) {
  const view = new DataView(new ArrayBuffer(44));
  const text = (at, letters) => [...letters].forEach((c, i) => view.setUint8(at + i, c.charCodeAt(0)));
  text(0, "RIFF");
  view.setUint32(4, 36 + dataBytes, true);
  text(8, "WAVEfmt ");
  view.setUint32(16, 16, true);
  view.setUint16(20, format, true);
  view.setUint16(22, 1, true);
  view.setUint32(24, rate, true);
  view.setUint32(28, rate * bytes, true);
  view.setUint16(32, bytes, true);
  view.setUint16(34, bytes * 8, true);
  text(36, "data");
  view.setUint32(40, dataBytes, true);
  return view.buffer;
}
