// Which clicks sound: the same line, read to the same places, as src/evenhand/music/click_pattern.py.

const FADED_DB = -24, MOST_SILENT_IN_A_ROW = 2;

function share(text) {
  const [over, under = 1] = text.split("/").map(Number);
  return over / under;
}

function pair(text) {
  return text.split(":").map(Number);
}

/** Mixes a seed and a number to 32 bits. */
function mixed(seed, k) {
  let x = (seed + Math.imul(0x9e3779b9, k)) >>> 0;
  for (const [shift, factor] of [[16, 0x7feb352d], [15, 0x846ca68b]]) x = Math.imul(x ^ (x >>> shift), factor) >>> 0;
  return (x ^ (x >>> 16)) >>> 0;
}

/** Returns which bars are silent, as a function of the bar. */
function silences({ silent, drawn }) {
  if (silent) {
    const [heard, without] = pair(silent);
    return (bar) => bar % (heard + without) >= heard;
  }
  if (!drawn) return () => false;
  const [part, seed] = drawn.split(":"), known = [false];
  return (bar) => {
    for (let k = known.length; k <= bar; k++) {
      const row = known.slice(-MOST_SILENT_IN_A_ROW);
      const long = row.length === MOST_SILENT_IN_A_ROW && row.every(Boolean);
      known.push(!long && mixed(Number(seed), k) < share(part) * 2 ** 32);
    }
    return known[bar];
  };
}

/** Returns a bar's gain: 0 once the click has faded away. */
function fading(text) {
  if (!text) return () => 1;
  const [after, over] = pair(text);
  return (bar) => {
    const faded = Math.max(bar - after + 1, 0);
    return faded > over ? 0 : 10 ** ((FADED_DB * faded) / over / 20);
  };
}

/** Returns what sounds in a bar that is heard: places in beats from its first, and what they mark. */
function inBar(first, said, { beats }, beat) {
  const swing = share(said.swing ?? "1/2"), parts = Number(said.between ?? 1), [sounds] = first.split("/");
  const end = beats.at(-1), spans = beats.slice(0, -1).map((at, k) => ({ at, lasts: beats[k + 1] - at }));
  if (sounds === "bar") return [{ at: 0, kind: "first" }];
  if (sounds === "2-and-4") return spans.filter((_, k) => k % 2).map(({ at }) => ({ at, kind: "beat" }));
  if (sounds === "offbeats") return spans.map(({ at, lasts }) => ({ at: at + swing * lasts, kind: "beat" }));
  if (sounds === "beats") {
    const within = parts === 2 ? [swing] : [...Array(parts - 1).keys()].map((k) => (k + 1) / parts);
    return spans.flatMap(({ at, lasts }) => [
      { at, kind: at ? "beat" : "first" },
      ...within.map((part) => ({ at: at + part * lasts, kind: "between" })),
    ]);
  }
  const groups = sounds.split("+").map(Number), unit = 1 / Number(first.split("/")[1]) / beat;
  const round = groups.reduce((all, each) => all + each, 0);
  const firsts = groups.map((_, k) => groups.slice(0, k).reduce((all, each) => all + each, 0));
  return [...Array(Math.ceil(end / unit - 1e-9)).keys()].map((k) => ({
    at: k * unit,
    kind: k === 0 ? "first" : firsts.includes(k % round) ? "beat" : "between",
  }));
}

/** Gives bars, those counted in first, then the others round and round; a pickup has the number of the bar before. */
function* roundAndRound(counted, bars) {
  for (const bar of counted) yield { bar, number: null };
  for (let k = 0, number = -1; ; k++) {
    const bar = bars[k % bars.length];
    number += bar.skipped ? 0 : 1;
    yield { bar, number: Math.max(number, 0) };
  }
}

/**
 * Returns which clicks begin within a beat, as a function of the beat from the first of the count-in, or of the
 * music where nothing is counted; beats are asked for in order. `bars` and `counted` are in beats (stand/music.py),
 * `beat` is the beat's value in whole notes; `after` is in beats from that beat.
 */
export function clicksOf(text, { bars, counted = [], beat }) {
  const words = text.split(/\s+/).filter(Boolean);
  const first = words.length && /^[^=]*$/.test(words[0]) && words[0] !== "plain" ? words.shift() : "beats";
  const said = Object.fromEntries(words.map((word) => [word.split("=")[0], word.split("=")[1] ?? ""]));
  const every = first.startsWith("bar/") ? Number(first.split("/")[1]) : 1;
  const isSilent = silences(said), gainOf = fading(said.fade), walk = roundAndRound(counted, bars);
  const sounding = ({ bar, number }) => {
    const gain = number === null ? 1 : gainOf(number);
    if (number !== null && (gain === 0 || isSilent(number) || number % every)) return [];
    const places = number === null ? inBar("beats", {}, bar, beat) : inBar(first, said, bar, beat);
    const plain = "plain" in said || !bar.accented;
    return places
      .map(({ at, kind }) => ({ at: at - bar.skipped, kind: kind === "first" && plain ? "beat" : kind, gain }))
      .filter(({ at }) => at > -1e-9 && at < bar.length - 1e-9);
  };
  let ahead = [], laid = 0;
  return (k) => {
    while (laid < k + 1) {
      const next = walk.next().value, from = laid;
      ahead.push(...sounding(next).map((click) => ({ ...click, at: click.at + from })));
      laid += next.bar.length;
    }
    const within = ahead.filter(({ at }) => Math.floor(at + 1e-9) === k);
    ahead = ahead.filter(({ at }) => at + 1e-9 >= k + 1);
    return within.map(({ at, kind, gain }) => ({ after: at - k, kind, gain }));
  };
}
