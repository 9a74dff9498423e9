// What a camera's preview says of the set-up: light, tape, level. Pure: pixels in, figures out.
//
// Hues are those of watching/tapes.py, by ITU-R BT.601 chroma, in degrees; a share is of the picture.

export const HUES_DEG = { blue: -15, purple: 30, pink: 75, red: 107, orange: 140, yellow: 175, green: -140, turquoise: -60 };
const NEAR_DEG = 30, COLOURED = 28; // from a tape's hue; from grey
const DARK = 60; // mean luma, 0 to 255
const LEAST_SHARE = 0.0002, MOST_SHARE = 0.02;
const STEEPEST = 0.7, EDGE = 24, CLEAR = 0.2; // of edges: slope, steps of luma, share that lies nearly level

const apart = (a, b) => Math.abs(((a - b + 540) % 360) - 180);

/** Returns { luma, dark, tapes: { R: share, L: share }, tiltDeg }; `pixels` are RGBA, `wanted` names each hand's colour. */
export function lookAt(pixels, width, height, wanted) {
  const luma = new Float32Array(width * height);
  const counts = { R: 0, L: 0 };
  let sum = 0;
  for (let i = 0; i < luma.length; i++) {
    const r = pixels[4 * i], g = pixels[4 * i + 1], b = pixels[4 * i + 2];
    luma[i] = 0.299 * r + 0.587 * g + 0.114 * b;
    sum += luma[i];
    const u = 0.564 * (b - luma[i]), v = 0.713 * (r - luma[i]);
    if (Math.hypot(u, v) < COLOURED) continue;
    const hue = (Math.atan2(v, u) * 180) / Math.PI;
    for (const hand of ["R", "L"]) counts[hand] += apart(hue, HUES_DEG[wanted[hand]]) <= NEAR_DEG;
  }
  const mean = sum / luma.length;
  const tapes = { R: counts.R / luma.length, L: counts.L / luma.length };
  return { luma: mean, dark: mean < DARK, tapes, tiltDeg: tiltOf(luma, width, height) };
}

/** Says of a colour's share of the picture whether it is a tape: "found", "lost", or "much". */
export function tapeOf(share) {
  return share < LEAST_SHARE ? "lost" : share > MOST_SHARE ? "much" : "found";
}

/**
 * Returns how far the edges that lie nearly level are turned on the average, degrees clockwise; null where there are few.
 * The sum of an edge's steps is square to it, however it falls between the pixels.
 */
function tiltOf(luma, width, height) {
  let all = 0, level = 0, acrossSum = 0, downSum = 0;
  for (let y = 1; y < height - 1; y++) {
    for (let x = 1; x < width - 1; x++) {
      const i = y * width + x;
      const across = luma[i + 1] - luma[i - 1], down = luma[i + width] - luma[i - width];
      const size = Math.hypot(across, down);
      if (size < EDGE) continue;
      all += size;
      if (Math.abs(across) > STEEPEST * Math.abs(down)) continue;
      level += size;
      acrossSum += across * Math.sign(down);
      downSum += Math.abs(down);
    }
  }
  if (level < CLEAR * all || level < EDGE * width) return null;
  return (-Math.atan2(acrossSum, downSum) * 180) / Math.PI;
}
