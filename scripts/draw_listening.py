"""Draw the pictures of docs/how-it-listens.md from invented takes, as docs/pictures/*.svg.

    python scripts/draw_listening.py

Conventions: a picture is 720 px wide; time runs to the right in seconds; each curve is scaled to its own row.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from evenhand.hearing.clicks.find import find_click
from evenhand.hearing.clicks.sound import without_click
from evenhand.hearing.listen import listen
from evenhand.hearing.onsets.attack import SHARES, find_rise, highpassed, time_hits
from evenhand.hearing.onsets.bands import BANDS_HZ, FRAME_HZ, SETTINGS, band_energies
from evenhand.hearing.onsets.candidates import find_onsets
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.report.plots.markup import el, esc
from evenhand.report.plots.shell import inks
from evenhand.synthesis.faults import with_faults
from evenhand.synthesis.instruments import Scene
from evenhand.synthesis.player import simulate
from evenhand.synthesis.playing import Player
from evenhand.take import Heard, Hit

Array = NDArray[np.float64]
Floats = NDArray[np.float32]

PICTURES = Path(__file__).parents[1] / "docs" / "pictures"
WIDTH, LEFT, RIGHT = 720, 92, 16
PAPER, INK, QUIET, RULE = (inks()[name] for name in ("paper", "ink", "quiet", "rule"))
HANDS = {"R": inks()["right"], "L": inks()["left"]}
EXERCISE, TEMPO = parse_exercise("1/8: RLRR LRLL"), Tempo.parse("1/4=100")
FROM_S, TO_S = 1.6, 5.5
NEAR_S = 0.012


@dataclass(frozen=True)
class Row:
    """A strip of a picture: where it lies, and what its top and bottom mean."""

    top: float
    height: float
    low: float
    high: float
    from_s: float = FROM_S
    to_s: float = TO_S

    def x(self, at: float) -> float:
        """Return where a time lies."""
        return LEFT + (WIDTH - LEFT - RIGHT) * (at - self.from_s) / (self.to_s - self.from_s)

    def y(self, value: float) -> float:
        """Return where a value lies; what is too low or high lies at the edge."""
        share = (value - self.low) / (self.high - self.low)
        return self.top + self.height * (1 - min(max(share, 0.0), 1.0))

    def curve(self, times: Array, values: Array, ink: str = INK, width: float = 1.0) -> str:
        """Draw a curve."""
        points = " ".join(f"{self.x(t):.1f},{self.y(v):.0f}" for t, v in zip(times, values, strict=True))
        return el("polyline", points=points, fill="none", stroke=ink, stroke_width=width)

    def line(self, value: float, dash: str = "3 4") -> str:
        """Draw a level line."""
        return mark(LEFT, self.y(value), WIDTH - RIGHT, self.y(value), QUIET, dash)

    def name(self, words: str) -> str:
        """Write what the row is, at its left."""
        return text(LEFT - 8, self.top + self.height / 2 + 4, words, anchor="end")


def text(x: float, y: float, words: str, *, ink: str = QUIET, anchor: str = "start", size: int = 12) -> str:
    """Write some words."""
    return el("text", esc(words), x=x, y=y, fill=ink, font_size=size, text_anchor=anchor)


def mark(x1: float, y1: float, x2: float, y2: float, ink: str = INK, dash: str | None = None) -> str:
    """Draw a straight line."""
    return el("line", x1=x1, y1=y1, x2=x2, y2=y2, stroke=ink, stroke_width=1.0, stroke_dasharray=dash)


def dot(x: float, y: float, ink: str, *, filled: bool = True, radius: float = 3.5) -> str:
    """Draw a dot or a ring."""
    return el("circle", cx=x, cy=y, r=radius, fill=ink if filled else "none", stroke=ink, stroke_width=1.3)


def save(name: str, height: int, title: str, *parts: str) -> None:
    """Write a picture on its sheet of paper."""
    sheet = el("rect", width=WIDTH, height=height, fill=PAPER)
    drawn = el(
        "svg",
        el("title", esc(title)),
        sheet,
        *parts,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {WIDTH} {height}",
        role="img",
        font_family="Georgia, serif",
    )
    (PICTURES / f"{name}.svg").write_text(drawn + "\n", "utf-8")


def seconds(height: float, row: Row) -> str:
    """Write the seconds under a picture."""
    whole = np.arange(np.ceil(row.from_s * 2) / 2, row.to_s + 1e-9, 0.5)
    return "".join(text(row.x(t), height, f"{t:g} s", anchor="middle", size=11) for t in whole.tolist())


def levels(energy: Floats) -> tuple[Array, Array]:
    """Return the loudest of every 6 ms inside the window: times, and dB."""
    frames = np.arange(int(FROM_S * FRAME_HZ), int(TO_S * FRAME_HZ), 12)
    near = np.lib.stride_tricks.sliding_window_view(energy, 12).max(axis=1)[frames]
    return frames / FRAME_HZ, 10 * np.log10(near.astype(np.float64) + 1e-12)


def draw_bands(energies: Floats) -> None:
    """Draw the energy in each band."""
    parts, row = [], Row(0, 1, 0, 1)
    for k, (low, high) in reversed(list(enumerate(BANDS_HZ))):
        times, values = levels(energies[k])
        row = Row(12 + 46 * (len(BANDS_HZ) - 1 - k), 38, float(values.max()) - 60, float(values.max()))
        parts += [row.curve(times, values), row.name(f"{low / 1000:g}–{high / 1000:g} kHz")]
    save("bands", 262, "Energy in five bands over time", *parts, seconds(252, row))


def draw_novelty(take: Floats, rate: int, clicks: Array) -> None:
    """Draw how much each moment stands out, and the candidates."""
    heard, found = find_onsets(take, rate)
    frames = np.arange(int(FROM_S * FRAME_HZ), int(TO_S * FRAME_HZ), 2)
    row = Row(28, 120, -3, float(heard.strength.max()))
    parts = [
        row.curve(frames / FRAME_HZ, np.maximum(heard.strength[frames], heard.strength[frames + 1])),
        row.name("stands out"),
    ]
    inside = (found.times_s > FROM_S) & (found.times_s < TO_S)
    for t, s in zip(found.times_s[inside].tolist(), found.strength[inside].tolist(), strict=True):
        parts.append(dot(row.x(t), row.y(s) - 6, INK, filled=s > SETTINGS.strong))
    marked = clicks[(clicks > FROM_S) & (clicks < TO_S)].tolist()
    parts += [text(row.x(t), 18, "click", anchor="middle", size=11) for t in marked]
    save(
        "novelty",
        178,
        "How much each moment stands out",
        *parts,
        row.line(SETTINGS.strong),
        seconds(168, row),
    )


def draw_click(before: Floats, after: Floats, rate: int, clicks: Array) -> None:
    """Draw the take with its click, and without."""
    parts, row = [], Row(0, 1, 0, 1)
    for k, (name, sound) in enumerate((("as recorded", before), ("click out", after))):
        energy = band_energies(sound, rate)[3]
        times, values = levels(energy)
        row = Row(26 + 70 * k, 60, -95, -25)
        parts += [row.curve(times, values), row.name(name)]
    for t in clicks[(clicks > FROM_S) & (clicks < TO_S)].tolist():
        parts += [
            mark(row.x(t), 22, row.x(t), 160, RULE),
            text(row.x(t), 16, "click", anchor="middle", size=11),
        ]
    save("click", 190, "A take before and after its click was taken out", *parts, seconds(180, row))


def draw_alignment(take: Floats, rate: int, heard: Heard) -> None:
    """Draw candidates above, the written notes below, and what was taken for what."""
    _, found = find_onsets(take, rate)
    row = Row(30, 90, 0, 1)
    taken = np.array([hit.time_s for hit in heard.hits])
    extra = np.array([hit.time_s for hit in heard.extra] or [-1.0])
    parts = [text(LEFT - 8, 38, "candidates", anchor="end"), text(LEFT - 8, 115, "exercise", anchor="end")]
    for t in found.times_s[(found.times_s > FROM_S) & (found.times_s < TO_S)].tolist():
        parts.append(dot(row.x(t), 34, INK, filled=bool(np.abs(taken - t).min() < NEAR_S), radius=3.0))
        if np.abs(extra - t).min() < NEAR_S:
            parts.append(text(row.x(t), 24, "added", anchor="middle", size=11))
    hits = [hit for hit in heard.hits if FROM_S < hit.time_s < TO_S]
    due = np.array([hit.time_s - (hit.deviation_ms or 0.0) / 1e3 for hit in hits])
    for hit, at in zip(hits, due.tolist(), strict=True):
        ink = HANDS[hit.hand or "R"]
        parts.append(mark(row.x(hit.time_s), 40, row.x(at), 100, ink))
        parts.append(text(row.x(at), 116, str(hit.hand), ink=ink, anchor="middle", size=15))
        if hit.position == 0:
            parts.append(text(row.x(at), 134, f"repetition {hit.repetition}", anchor="middle", size=11))
    for at, note in _missed(heard):
        parts.append(text(row.x(at), 116, f"({note})", anchor="middle", size=15))
        parts.append(text(row.x(at), 134, "missed", anchor="middle", size=11))
    save("alignment", 166, "Candidates laid on the written sticking", *parts, seconds(156, row))


def _missed(heard: Heard) -> list[tuple[float, str]]:
    """Return when the missed notes inside the window were due, and their hands."""
    hits = _shown(heard)
    due = [hit.time_s - (hit.deviation_ms or 0.0) / 1e3 for hit in hits]
    line = np.polyfit(np.array([hit.written for hit in hits], dtype=np.float64), due, 1)
    written = [
        (note.repetition - 1) * float(EXERCISE.length) + float(EXERCISE.starts[note.position])
        for note in heard.missed
    ]
    hands = [str(EXERCISE.notes[note.position].hand) for note in heard.missed]
    every = zip(np.polyval(line, written).tolist(), hands, strict=True)
    return [(at, hand) for at, hand in every if FROM_S < at < TO_S]


def draw_attack() -> None:
    """Draw the rise of a loud and of a soft hit, and the shares of their peaks that are seen."""
    player = with_faults(Player(), ["weak-hand=L:14"])
    scene = Scene(instrument="snare", noise_snr_db=50.0)
    taken = simulate(EXERCISE, TEMPO, 6, player=player, scene=scene, seed=5)
    take, rate = taken.samples, taken.rate_hz
    hits = listen(take, rate, exercise=EXERCISE, tempo=TEMPO).hits
    timed = time_hits(take, rate, np.array([hit.time_s for hit in hits]))
    cut = highpassed(take, rate, timed.times_s)
    off = timed.times_s - (cut.first + cut.zero) / rate
    rise = find_rise(cut.sound, cut.zero, rate, off, np.full(len(hits), 0.2))
    seen = (~np.isnan(rise.crossed_s)).sum(axis=1)
    softest = int(np.where(seen >= 3, timed.levels_db, np.inf).argmin())
    parts, row = [], Row(0, 1, 0, 1)
    rows = (("loud", int(timed.levels_db.argmax())), ("soft", softest))
    for k, (name, one) in enumerate(rows):
        columns = np.arange(cut.zero - int(2.5e-3 * rate), cut.zero + int(3.5e-3 * rate))
        sound = np.abs(cut.sound[one])
        peak = float(sound[cut.zero : cut.zero + int(0.02 * rate)].max())
        row = Row(14 + 106 * k, 92, -60, 0, -2e-3, 3e-3)
        times = (columns - cut.zero) / rate - float(off[one])
        inside = (times > row.from_s) & (times < row.to_s)
        values = 20 * np.log10(sound[columns] / peak + 1e-9)
        parts += [row.curve(times[inside], values[inside], QUIET), row.name(f"{name}, dB"), row.line(-40.0)]
        for share, at in zip(SHARES, (rise.crossed_s[one] - off[one]).tolist(), strict=True):
            if not np.isnan(at):
                parts.append(dot(row.x(at), row.y(20 * float(np.log10(share))), HANDS["R"], radius=3.0))
        parts.append(mark(row.x(0), row.top, row.x(0), row.top + row.height, HANDS["L"]))
    ticks = "".join(text(row.x(t / 1e3), 234, f"{t} ms", anchor="middle", size=11) for t in range(-2, 4))
    said = text(WIDTH - RIGHT, Row(14, 92, -60, 0).y(-40) - 4, "1 % of the peak", anchor="end", size=11)
    save("attack", 244, "Where a loud and a soft sound start", *parts, ticks, said)


def draw_clock() -> None:
    """Draw hits against an even pulse, and the smooth tempo through them."""
    player = with_faults(Player(), ["late-hand=L:12", "hurrying=8"])
    taken = simulate(EXERCISE, TEMPO, 8, player=player, scene=Scene(), seed=5)
    heard = listen(taken.samples, taken.rate_hz, exercise=EXERCISE, tempo=TEMPO)
    times = np.array([hit.time_s for hit in heard.hits])
    written = np.array([hit.written for hit in heard.hits], dtype=np.float64)
    smooth = times - np.array([hit.deviation_ms or 0.0 for hit in heard.hits]) / 1e3
    even = np.polyval(np.polyfit(written, times, 1), written)
    off = 1e3 * (times - even)
    row = Row(
        12, 150, float(off.min()) - 8, float(off.max()) + 8, float(times[0]) - 0.3, float(times[-1]) + 0.3
    )
    parts = [row.line(0.0), row.curve(times, 1e3 * (smooth - even), INK, 1.4), row.name("late, ms")]
    parts += [
        dot(row.x(hit.time_s), row.y(float(o)), HANDS[hit.hand or "R"], filled=hit.hand == "R", radius=3.0)
        for hit, o in zip(heard.hits, off, strict=True)
    ]
    ticks = "".join(
        text(row.x(t), 184, f"{t} s", anchor="middle", size=11) for t in range(4, int(times[-1]), 4)
    )
    save("clock", 194, "Hits against an even pulse, and the smooth tempo through them", *parts, ticks)


def draw_way(before: Floats, after: Floats, rate: int, heard: Heard) -> None:
    """Draw all that a take goes through, one row a stage, on one axis of time."""
    parts = [*_sound_row(before, rate), *_band_rows(band_energies(before, rate)), *_novelty_row(before, rate)]
    parts += [*_cleaned_row(before, after, rate), *_note_row(heard), *_fit_row(after, rate, heard)]
    row = Row(508, 60, -30, 30)
    parts += [row.name("off the click"), row.line(0.0, "1 0")]
    for hit in _shown(heard):
        ink, off_ms = HANDS[hit.hand or "R"], hit.asynchrony_ms or 0.0
        parts += [mark(row.x(hit.time_s), row.y(0), row.x(hit.time_s), row.y(off_ms), ink)]
        parts += [dot(row.x(hit.time_s), row.y(off_ms), ink, radius=3.0)]
    parts += [text(WIDTH - RIGHT, row.top + 8, "30 ms late", anchor="end", size=10)]
    parts += [text(WIDTH - RIGHT, row.top + row.height, "30 ms early", anchor="end", size=10)]
    clicks = [mark(row.x(t), 8, row.x(t), 572, RULE, "1 3") for t in heard.clicks_s if FROM_S < t < TO_S]
    parts += [seconds(590, row), text(LEFT - 8, 590, "dotted: clicks", anchor="end", size=11)]
    save("way", 600, "The way of a take, from sound to figures", *clicks, *parts)


def _shown(heard: Heard) -> list[Hit]:
    """Return the hits inside the window."""
    return [hit for hit in heard.hits if FROM_S < hit.time_s < TO_S]


def _sound_row(take: Floats, rate: int) -> list[str]:
    """Draw the samples, the highest and the lowest of every 4 ms."""
    step = int(0.004 * rate)
    inside = take[int(FROM_S * rate) : int(TO_S * rate)]
    rows = inside[: len(inside) // step * step].reshape(-1, step).astype(np.float64)
    times = FROM_S + np.arange(len(rows)) * 0.004
    most = float(np.abs(rows).max())
    row = Row(10, 64, -most, most)
    both = np.append(rows.max(axis=1), rows.min(axis=1)[::-1])
    return [row.curve(np.append(times, times[::-1]), both, INK, 0.8), row.name("sound")]


def _band_rows(energies: Floats) -> list[str]:
    """Draw the energy of each band, the highest on top."""
    parts = [text(LEFT - 8, 122, "five bands,", anchor="end"), text(LEFT - 8, 137, "dB", anchor="end")]
    for k in range(len(BANDS_HZ)):
        times, values = levels(energies[k])
        row = Row(82 + 20 * (len(BANDS_HZ) - 1 - k), 18, float(values.max()) - 60, float(values.max()))
        parts.append(row.curve(times, values, QUIET))
    return parts


def _novelty_row(take: Floats, rate: int) -> list[str]:
    """Draw how much each moment stands out, and the candidates."""
    novelty, found = find_onsets(take, rate)
    frames = np.arange(int(FROM_S * FRAME_HZ), int(TO_S * FRAME_HZ), 4)
    row = Row(200, 60, -3, float(novelty.strength.max()))
    heights = np.lib.stride_tricks.sliding_window_view(novelty.strength, 4).max(axis=1)[frames]
    parts = [row.curve(frames / FRAME_HZ, heights), row.name("stands out"), row.line(SETTINGS.strong)]
    for t, strength in zip(found.times_s.tolist(), found.strength.tolist(), strict=True):
        if FROM_S < t < TO_S:
            parts.append(
                dot(row.x(t), row.y(strength) - 5, INK, filled=strength > SETTINGS.strong, radius=2.5)
            )
    return parts


def _cleaned_row(before: Floats, after: Floats, rate: int) -> list[str]:
    """Draw the band in which the click is clearest, with it and without."""
    row = Row(276, 60, -95, -25)
    parts = [text(LEFT - 8, 304, "click out,", anchor="end"), text(LEFT - 8, 319, "2.2–5 kHz", anchor="end")]
    for sound, ink, width in ((before, RULE, 3.0), (after, INK, 1.0)):
        parts.append(row.curve(*levels(band_energies(sound, rate)[3]), ink, width))
    return parts


def _note_row(heard: Heard) -> list[str]:
    """Draw the notes that the hits were taken for, and those that were missed or added."""
    row = Row(352, 60, 0, 1)
    parts = [text(LEFT - 8, 376, "hits", anchor="end"), text(LEFT - 8, 406, "notes", anchor="end")]
    for hit in _shown(heard):
        ink, due_s = HANDS[hit.hand or "R"], hit.time_s - (hit.deviation_ms or 0.0) / 1e3
        parts += [
            dot(row.x(hit.time_s), 372, ink, radius=3.0),
            mark(row.x(hit.time_s), 377, row.x(due_s), 392, ink),
        ]
        parts.append(text(row.x(due_s), 407, str(hit.hand), ink=ink, anchor="middle", size=14))
    for at, hand in _missed(heard):
        parts.append(text(row.x(at), 407, f"({hand})", anchor="middle", size=14))
        parts.append(text(row.x(at), 376, "missed", anchor="middle", size=10))
    for extra in heard.extra:
        if FROM_S < extra.time_s < TO_S:
            parts += [dot(row.x(extra.time_s), 372, INK, filled=False, radius=3.0)]
            parts += [text(row.x(extra.time_s), 362, "added", anchor="middle", size=10)]
    return parts


def _fit_row(after: Floats, rate: int, heard: Heard) -> list[str]:
    """Draw how far the fit of the attack moved each hit from where it was roughly found."""
    found = find_onsets(after, rate)[1].times_s
    row = Row(432, 60, -3, 3)
    parts = [text(LEFT - 8, 458, "moved by", anchor="end"), text(LEFT - 8, 473, "the fit", anchor="end")]
    parts += [row.line(0.0, "1 0"), text(WIDTH - RIGHT, row.top + 6, "3 ms later", anchor="end", size=10)]
    for hit in _shown(heard):
        rough = float(found[np.abs(found - hit.time_s).argmin()])
        y = row.y(1e3 * (hit.time_s - rough))
        parts += [
            mark(row.x(hit.time_s), row.y(0), row.x(hit.time_s), y),
            dot(row.x(hit.time_s), y, INK, radius=2.5),
        ]
    return parts


def main() -> None:
    """Draw them all."""
    PICTURES.mkdir(exist_ok=True)
    player = with_faults(Player(), ["weak-hand=L:12", "missed=0.04", "extra=0.05"])
    scene = Scene(instrument="snare", noise_snr_db=38.0, click_db=-2.0)
    taken = simulate(EXERCISE, TEMPO, 6, player=player, scene=scene, seed=26)
    samples, rate = taken.samples, taken.rate_hz
    heard = listen(samples, rate, exercise=EXERCISE, tempo=TEMPO)
    _, found = find_onsets(samples, rate)
    click = find_click(samples, rate, found, TEMPO.beat_s)
    if click is None:
        raise SystemExit("draw_listening: the click was not found; choose another seed.")
    cleaned = np.asarray(without_click(samples, rate, click)[0 : len(samples)])
    draw_bands(band_energies(samples, rate))
    draw_novelty(samples, rate, click.times_s)
    draw_click(samples, cleaned, rate, click.times_s)
    draw_alignment(cleaned, rate, heard)
    draw_attack()
    draw_clock()
    draw_way(samples, cleaned, rate, heard)


if __name__ == "__main__":
    main()
