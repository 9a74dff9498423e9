"""Can a click that sounds in the recording be found again and taken out? ``python -m benchmarks.click``.

Invented players play to a click that the microphone hears too: the click that Evenhand writes, and beside it
the plain 1 kHz tone burst that the invented player usually has. Every take goes through the whole act, from a
file. Conventions: times in seconds, errors in ms (heard minus true), levels in dB; the click's level is its
peak over the strokes' mean peak, both dry.
"""

from __future__ import annotations

import argparse
import itertools
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenhand.acts.takes.hear import hear_take
from evenhand.acts.takes.request import TakeRequest
from evenhand.media.open_take import open_take
from evenhand.media.write import write_wav
from evenhand.music.click_pattern import ClickKind, ClickPattern
from evenhand.synthesis.click import burst, click_voice
from evenhand.synthesis.instruments import Instrument, Room, Scene
from evenhand.synthesis.player import Truth, simulate
from evenhand.synthesis.playing import Player
from evenhand.synthesis.strokes import LEAD, Rows
from evenhand.synthesis.surroundings import noise, reverberate
from evenhand.synthesis.voice import add, place
from evenhand.take import Heard

Floats = NDArray[np.float64]
VoiceName = Literal["ours", "1 kHz burst"]

RATE_HZ = 48_000
LEVELS_DB = (-6.0, -3.0, 0.0, 3.0, 6.0)
KINDS: tuple[ClickKind, ...] = ("beat", "first", "between")
FIRST_S, PEAK_AFTER_S, NOISE_DB = 0.5, 0.03, -50.0
MOST_BARS = 60
HIT_S, CLICK_S, ON_CLICK_S, OF_CLICK_S = 0.010, 0.005, 0.012, 0.04


@dataclass(frozen=True)
class Situation:
    """What is played to the click, and which clicks sound after the four beats that are counted in."""

    name: str
    exercise: str
    tempo: str
    repetitions: int
    pattern: str = ""


SITUATIONS = (
    Situation("under every stroke", "1/4: RLRR LRLL", "1/4=110", 8, "plain"),
    Situation("on every other stroke", "1/8: RLRR LRLL", "1/4=92", 12, "plain"),
    Situation("on beats, accented", "1/16: >RLRR >LRLL", "1/4=80", 16),
)
SUBDIVIDED = (
    Situation("eighths between, under all", "1/8: RLRR LRLL", "1/4=92", 12, "between=2"),
    Situation("eighths between", "1/16: >RLRR >LRLL", "1/4=80", 16, "between=2"),
)
PATTERNED = (SITUATIONS[1], SITUATIONS[2])
PATTERNS = (
    *("beats", "2-and-4", "offbeats", "bar", "bar/2", "silent=2:2", "drawn=1/4:7", "fade=2:4"),
    *("between=2", "3+3+2/8"),
)
COUNTED = 4
BOTH = {"R": 1.0, "L": 1.0}
PLAYERS: Mapping[str, Player] = {
    "exact": Player(timekeeper_sd_ms=1.0, hand_sd_ms={"R": 1.0, "L": 1.0}, correction=0.9),
    "late": Player(late_ms={"R": 14.0, "L": 22.0}),
}


@dataclass(frozen=True)
class Case:
    """One take to be made."""

    voice: VoiceName
    level_db: float
    situation: Situation
    player: str
    instrument: Instrument
    room: bool
    seed: int


@dataclass
class Tally:
    """What was heard in some takes, added up."""

    takes: int = 0
    true: int = 0
    heard: int = 0
    matched: int = 0
    on_click: int = 0
    clicks: int = 0
    clicks_heard: int = 0
    clicks_matched: int = 0
    errors_ms: list[float] = field(default_factory=list)
    click_errors_ms: list[float] = field(default_factory=list)
    asynchrony_errors_ms: list[float] = field(default_factory=list)

    def add(self, heard: Heard, truth: Truth, clicks_s: Floats, beat_s: float) -> None:
        """Add one take."""
        true_s = np.array([hit.time_s for hit in truth.hits])
        heard_s = np.array(sorted([h.time_s for h in heard.hits] + [h.time_s for h in heard.extra]))
        pairs = _pairs(true_s, heard_s, HIT_S)
        free = np.delete(heard_s, [b for _, b in pairs])
        found = np.array(heard.clicks_s)
        click_pairs = _pairs(clicks_s, found, CLICK_S)
        self.takes += 1
        self.true, self.heard, self.matched = (
            self.true + len(true_s),
            self.heard + len(heard_s),
            self.matched + len(pairs),
        )
        self.on_click += sum(bool(np.abs(clicks_s - at).min() < ON_CLICK_S) for at in free)
        self.clicks += len(clicks_s)
        self.clicks_heard += len(found)
        self.clicks_matched += len(click_pairs)
        self.errors_ms += [1000 * (heard_s[b] - true_s[a]) for a, b in pairs]
        self.click_errors_ms += [1000 * (found[b] - clicks_s[a]) for a, b in click_pairs]
        self.asynchrony_errors_ms += list(_asynchronies(heard, truth, beat_s))

    @property
    def f1(self) -> float:
        """Of strokes, within 10 ms."""
        return 2 * self.matched / max(self.true + self.heard, 1)


def _pairs(true_s: Floats, heard_s: Floats, within_s: float) -> list[tuple[int, int]]:
    import mir_eval

    if not len(true_s) or not len(heard_s):
        return []
    return list(mir_eval.util.match_events(true_s, heard_s, within_s))


def _asynchronies(heard: Heard, truth: Truth, beat_s: float) -> Iterator[float]:
    """Give the errors of the asynchronies of strokes on a beat, whether a click sounds there or not."""
    true_s = {(hit.repetition, hit.position): hit.time_s for hit in truth.hits}
    for hit in heard.hits:
        at = true_s.get((hit.repetition or 0, hit.position or 0))
        if at is None or hit.asynchrony_ms is None:
            continue
        beats = (at - FIRST_S) / beat_s
        apart_s = (beats - round(beats)) * beat_s
        if abs(apart_s) < OF_CLICK_S:
            yield hit.asynchrony_ms - 1000 * apart_s


def sounds_of(voice: VoiceName) -> tuple[Floats, Floats, Floats]:
    """Return beat, first beat and what lies between, each after ``LEAD`` samples of silence."""
    if voice == "1 kHz burst":
        return burst(RATE_HZ), burst(RATE_HZ, accent=True), 0.5 * burst(RATE_HZ)
    plain, first, between = (_after_silence(kind) for kind in KINDS)
    return plain, first, between


def _after_silence(kind: ClickKind) -> Floats:
    return np.concatenate([np.zeros(LEAD), click_voice(kind, RATE_HZ)])


def take_of(case: Case) -> tuple[Floats, Truth, Floats]:
    """Play a take, with its click; return samples, what was played, and when the beats' clicks start."""
    asked = TakeRequest.read(case.situation.exercise, case.situation.tempo)
    assert asked.exercise is not None  # noqa: S101 - it was given
    assert asked.tempo is not None  # noqa: S101 - the same
    scene = Scene(rate_hz=RATE_HZ, instrument=case.instrument, lead_in_s=FIRST_S)
    played = simulate(
        asked.exercise,
        asked.tempo,
        case.situation.repetitions,
        player=PLAYERS[case.player],
        scene=scene,
        seed=case.seed,
    )
    mix = played.samples.astype(np.float64)
    hits_s = [hit.time_s for hit in played.truth.hits]
    ends = [round(at * RATE_HZ) for at in hits_s]
    peak = float(np.mean([np.abs(mix[at : at + round(PEAK_AFTER_S * RATE_HZ)]).max() for at in ends]))
    beat_s = asked.tempo.beat_s
    due = [each for each in _places(case, asked.tempo.beat) if FIRST_S + each[0] * beat_s < hits_s[-1]]
    clicks_s = _click(mix, case.voice, due, beat_s, peak * 10 ** (case.level_db / 20))
    rng = np.random.default_rng(case.seed + 1000)
    if case.room:
        mix = reverberate(mix, Room(), RATE_HZ, rng)
    mix = mix + peak * 10 ** (NOISE_DB / 20) * noise("pink", len(mix), RATE_HZ, rng)
    return 0.6 * mix / np.abs(mix).max(), played.truth, clicks_s


def _places(case: Case, beat: Fraction) -> Iterator[tuple[float, ClickKind, float]]:
    """Give the clicks: in beats from the first of the count-in, what they mark, and their level, dB."""
    pattern = ClickPattern.parse(case.situation.pattern)
    for k in range(COUNTED):
        yield k, "first" if k == 0 and pattern.accent else "beat", 0.0
    for each in pattern.places(COUNTED * beat, beat, MOST_BARS):
        yield COUNTED + float(each.at / beat), each.kind, each.level_db


def _click(
    mix: Floats, voice: VoiceName, due: Sequence[tuple[float, ClickKind, float]], beat_s: float, peak: float
) -> Floats:
    """Add the click in place; return when the clicks start."""
    sounds = dict(zip(KINDS, sounds_of(voice), strict=True))
    placed: list[Floats] = []
    for softer in (False, True):
        some = [each for each in due if (each[1] == "between") == softer]
        if some:
            rows = np.array([sounds[kind] for _, kind, _ in some])
            times_s = FIRST_S + np.array([at for at, _, _ in some]) * beat_s
            levels = 10 ** (np.array([level_db for *_, level_db in some]) / 20)
            placed.append(_lay(mix, rows, times_s, peak * (0.5 if softer else 1.0) * levels))
    return np.sort(np.concatenate(placed))


def _lay(mix: Floats, sounds: Floats, times_s: Floats, peaks: Floats) -> Floats:
    placed = place(
        Rows(sounds, np.zeros((len(sounds), 0), np.float32), sounds.shape[1]),
        times_s,
        np.zeros(len(sounds)),
        RATE_HZ,
    )
    head = placed.rows.head * (peaks / placed.peaks)[:, None]
    add(
        mix, type(placed)(Rows(head, placed.rows.tail, placed.rows.tail_from), placed.first, times_s, times_s)
    )
    return placed.time_s


def hear(case: Case, folder: Path, tally: Tally) -> None:
    """Make a take, hear it, add up what was heard."""
    samples, truth, clicks_s = take_of(case)
    file = folder / "take.wav"
    write_wav(file, samples, RATE_HZ)
    situation = case.situation
    asked = TakeRequest.read(situation.exercise, situation.tempo, pattern=situation.pattern)
    beat_s = asked.tempo.beat_s if asked.tempo else 1.0
    tally.add(hear_take(file, asked, opens=open_take).heard, truth, clicks_s, beat_s)


def cases(voice: VoiceName, level_db: float, situations: Sequence[Situation], seeds: int) -> Iterator[Case]:
    """List the takes of one row."""
    instruments: tuple[Instrument, ...] = ("pad", "snare")
    for s, p, i, room, seed in itertools.product(
        situations, PLAYERS, instruments, (False, True), range(seeds)
    ):
        yield Case(voice, level_db, s, p, i, room, 10 * seed + 7)  # 3, 13 and 23 were for choosing the sound


def run(
    situations: Sequence[Situation], voices: Sequence[VoiceName], seeds: int, say: Callable[[str], None]
) -> None:
    """Make and print one table."""
    say(HEADING)
    with tempfile.TemporaryDirectory(prefix="click-") as folder:
        for voice, level_db in itertools.product(voices, LEVELS_DB):
            tally = Tally()
            for case in cases(voice, level_db, situations, seeds):
                hear(case, Path(folder), tally)
            say(_row(voice, level_db, tally))


def run_patterns(seeds: int, say: Callable[[str], None]) -> None:
    """Make and print one table: which clicks sound, at the strokes' own level."""
    say(HEADING)
    with tempfile.TemporaryDirectory(prefix="click-") as folder:
        for pattern in PATTERNS:
            tally = Tally()
            situations = [replace(each, pattern=pattern) for each in PATTERNED]
            for case in cases("ours", 0.0, situations, seeds):
                hear(case, Path(folder), tally)
            say(_row(pattern, 0.0, tally))


HEADING = (
    "| click | level | takes | F1 of strokes | missed | false, on a click | strokes' timing error | "
    "clicks found | clicks' timing error | asynchrony error |\n|---|---|---|---|---|---|---|---|---|---|"
)


def _row(voice: str, level_db: float, t: Tally) -> str:
    cells = (
        voice,
        f"{level_db:+.0f} dB",
        str(t.takes),
        f"{t.f1:.4f}",
        f"{t.true - t.matched} of {t.true}",
        f"{t.on_click} of {t.clicks} clicks",
        _spread(t.errors_ms),
        f"{t.clicks_matched} of {t.clicks}, {t.clicks_heard - t.clicks_matched} too many",
        _spread(t.click_errors_ms),
        _spread(t.asynchrony_errors_ms),
    )
    return f"| {' | '.join(cells)} |"


def _spread(errors_ms: Sequence[float]) -> str:
    """Say the median and the 95th percentile of the size of errors."""
    if not errors_ms:
        return "-"
    size = np.abs(np.array(errors_ms))
    return f"{np.median(size):.2f}, {np.quantile(size, 0.95):.2f} ms"


def main() -> None:
    """Run one table."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.click", description=__doc__)
    parser.add_argument("--seeds", type=int, default=2, help="drums and players of each kind")
    parser.add_argument("--ours-only", action="store_true", help="leave the 1 kHz burst out")
    parser.add_argument("--accented", action="store_true", help="the first beat of every bar stands out")
    parser.add_argument("--subdivided", action="store_true", help="softer clicks between the beats")
    parser.add_argument("--patterns", action="store_true", help="which clicks sound: one row a pattern")
    options = parser.parse_args()
    if options.patterns:
        run_patterns(options.seeds, lambda line: print(line, flush=True))
        return
    situations: Sequence[Situation] = SUBDIVIDED if options.subdivided else SITUATIONS
    if options.accented:
        situations = [replace(each, pattern="") for each in situations]
    voices: tuple[VoiceName, ...] = ("ours",) if options.ours_only else ("ours", "1 kHz burst")
    run(situations, voices, options.seeds, lambda line: print(line, flush=True))


if __name__ == "__main__":
    main()
