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
from evenhand.take import Heard

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
    line = np.polyfit(np.array([hit.written for hit in hits], dtype=np.float64), due, 1)
    for note in heard.missed:
        written = (note.repetition - 1) * float(EXERCISE.length) + float(EXERCISE.starts[note.position])
        if FROM_S < (at := float(np.polyval(line, written))) < TO_S:
            parts.append(
                text(row.x(at), 116, f"({EXERCISE.notes[note.position].hand})", anchor="middle", size=15)
            )
            parts.append(text(row.x(at), 134, "missed", anchor="middle", size=11))
    save("alignment", 166, "Candidates laid on the written sticking", *parts, seconds(156, row))


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


if __name__ == "__main__":
    main()
