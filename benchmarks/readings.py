"""Hear short takes that are hard to read, and count how often they are read wrong, and in silence.

    python -m benchmarks.readings [--takes N] [--seed N] [--samples FOLDER] [--only CASE] [--list]

The takes are those of ``benchmarks.stories``. Seeds 0 to 9 were for setting the ear, others only report.

A take is off where more than a tenth of its notes are said to be other notes of the exercise; it is off in
silence where no doubt is said. Where two readings are given with their weights, the weights are held against
how often each was right. Some takes nobody could read rightly (begun late, all notes alike): there only the
doubt can be asked for.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from benchmarks.drums import Drum, find_drums
from benchmarks.judging import paired
from benchmarks.stories import BEGUN_LATE, CASES, Story, draw, play
from evenhand.hearing.listen import listen
from evenhand.synthesis.player import SimulatedTake, TrueHit
from evenhand.take import Heard, Hit

SAME_S = 0.030
OFF_FROM = 0.1  # of the notes
LEAST_NOTES = 3  # of a time through: one or two may be a false start
DOUBTS = {"maybe a count-in", "maybe notes", "hands from habit"}


@dataclass(frozen=True)
class Told:
    """What became of one take. Counts of missed and extra are (right, said, true)."""

    story: Story
    off: float  # share of the notes that are said to be others
    hands: tuple[int, int]  # right, of
    lost: int  # times through of which fewer than half the notes are said to be notes
    said: str  # the doubt said, or nothing
    weight: float | None  # of the reading taken, where two are given
    missed: tuple[int, int, int]
    extra: tuple[int, int, int]
    unlike: bool

    @property
    def is_off(self) -> bool:
        """Tell whether the take is read wrong."""
        return self.off > OFF_FROM


def judge(story: Story, take: SimulatedTake, heard: Heard) -> Told:
    """Hold what was heard against what was played."""
    true = [hit for hit in take.truth.hits if not hit.grace]
    both = list(_pairs(true, [hit for hit in heard.hits if not hit.grace]))
    right: Counter[int] = Counter(t.repetition for t, s in both if t.position == s.position)
    times = Counter(hit.repetition for hit in true)
    said = next((each.kind for each in heard.warnings if each.kind in DOUBTS), "")
    weight = None if heard.ambiguity is None else heard.ambiguity.facts.get("weight")
    return Told(
        story,
        off=sum(t.position != s.position for t, s in both) / max(len(both), 1),
        hands=(sum(t.hand == s.hand for t, s in both), len(both)),
        lost=sum(right[n] < 0.5 * many for n, many in times.items() if many >= LEAST_NOTES),
        said="two alignments" if heard.ambiguity is not None else said,
        weight=None if weight is None else float(weight),
        missed=_missed(take, heard),
        extra=_extra(take, heard),
        unlike=heard.unlike is not None,
    )


def _pairs(true: Sequence[TrueHit], said: Sequence[Hit]) -> Iterator[tuple[TrueHit, Hit]]:
    times = [np.array([hit.time_s for hit in hits]) for hits in (true, said)]
    for i, j in paired(times[0], times[1], SAME_S).tolist():
        yield true[i], said[j]


def _missed(take: SimulatedTake, heard: Heard) -> tuple[int, int, int]:
    """Count missed notes; those ahead of the first that was played are no question here."""
    first = min((hit.repetition, hit.position) for hit in take.truth.hits)
    missed = [(m.repetition, m.position) for m in take.truth.missed if not m.grace]
    true = Counter(each for each in missed if each > first)
    said = Counter((m.repetition, m.position) for m in heard.missed if not m.grace)
    return (true & said).total(), said.total(), true.total()


def _extra(take: SimulatedTake, heard: Heard) -> tuple[int, int, int]:
    """Count what is said to sound between the notes; bounces of a buzz may be said or not."""
    true_s = np.array([hit.time_s for hit in take.truth.extras])
    said_s = np.array([hit.time_s for hit in heard.extra if hit.reason == "between"])
    pairs = paired(true_s, said_s, SAME_S)
    bounces = np.array(take.truth.bounces_s)
    free = np.delete(said_s, pairs[:, 1] if len(pairs) else [])
    ignored = sum(len(bounces) > 0 and np.abs(bounces - at).min() < SAME_S for at in free)
    return len(pairs), len(said_s) - int(ignored), len(true_s)


def run_one(seed: int, drums: Sequence[Drum]) -> Told:
    """Draw, play, hear and judge one take."""
    story = draw(seed, drums)
    take = play(story)
    heard = listen(take.samples, take.rate_hz, exercise=story.exercise, tempo=story.given)
    return judge(story, take, heard)


def summed(every: Sequence[Told]) -> str:
    """Say the sums of several takes in a line."""
    off = [one for one in every if one.is_off]
    lost = [one for one in every if one.lost]
    hands = np.sum([one.hands for one in every], axis=0)
    sure = np.sum([one.hands for one in every if not one.said] or [(0, 0)], axis=0)
    missed, extra = (np.sum([getattr(one, of) for one in every], axis=0) for of in ("missed", "extra"))
    said = Counter(one.said for one in every if one.said)
    return (
        f"{len(every)} takes: off {len(off)}, in silence {sum(not one.said for one in off)}; "
        f"lost {sum(one.lost for one in lost)}, in silence {sum(one.lost for one in lost if not one.said)}; "
        f"hands {hands[0] / max(hands[1], 1):.4f}, where sure {sure[0] / max(sure[1], 1):.4f}; "
        f"missed {_rates(missed)}; extra {_rates(extra)}; "
        f"unlike {sum(one.unlike for one in every)}; doubts {sum(said.values())} {dict(said)}"
    )


def _rates(counts: NDArray[np.int64]) -> str:
    right, said, true = counts.tolist()
    return f"{right / max(said, 1):.2f}/{right / max(true, 1):.2f} of {true}"


def weights(every: Sequence[Told]) -> Iterator[str]:
    """Hold the weights given against how often the reading taken was right."""
    bins: dict[float, list[Told]] = defaultdict(list)
    for one in every:
        if one.weight is not None:
            bins[round(one.weight, 1)].append(one)
    for about, ones in sorted(bins.items()):
        mean = np.mean([one.weight for one in ones])
        right = np.mean([not one.is_off for one in ones])
        yield f"said {100 * mean:.0f} %: right {100 * right:.0f} % of {len(ones)} takes (about {about:.1f})"


def line(one: Told) -> str:
    """Say in a line what went wrong with a take."""
    s = one.story
    counted = f"{s.scene.count_in} x{s.scene.count_in_beats}" if s.scene.count_in != "none" else "no count-in"
    said = [
        f"{s.text!r} {s.tempo} x{s.repetitions}",
        f"given {s.given}" if s.given != s.tempo else "",
        f"voice x{s.voice_beats}" if s.voice_beats else counted,
        f"click {s.scene.click_db:.0f} dB {'through' if s.scene.click_through else ''}"
        if s.scene.click_db
        else "",
        f"first {s.player.first_db:.0f} dB" if s.player.first_db else "",
        f"misses first {s.player.misses_first}" if s.player.misses_first else "",
        f"stops {s.player.stops}" if s.player.stops else "",
        f"noise {s.scene.noise_snr_db:.0f} dB" if s.scene.noise_snr_db else "",
        f"accents {s.player.accent_db:.0f} dB",
        "talk" if s.scene.talking else "",
        "room" if s.scene.room else "",
        "codec" if s.codec else "",
        s.drum.name if s.drum else s.scene.instrument,
    ]
    wrong = (
        f"off {one.off:.2f}, lost {one.lost}, said {one.said or 'nothing'}{' unlike' if one.unlike else ''}"
    )
    weight = "" if one.weight is None else f" {one.weight:.2f}"
    return f"{s.seed} {s.case}: {wrong}{weight}, missed {one.missed}, extra {one.extra}: " + ", ".join(
        each for each in said if each
    )


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.readings", description=__doc__)
    add = parser.add_argument
    add("--takes", type=int, default=1000, metavar="N")
    add("--seed", type=int, default=10, metavar="N", help="which thousand: 10 and up are only reported")
    add("--samples", type=Path, metavar="FOLDER", help="recorded drums")
    add("--only", default="", metavar="CASE", help="takes whose case contains this")
    add("--list", action="store_true", help="a line for each take with something wrong")
    asked = parser.parse_args()
    drums, _ = find_drums(asked.samples)
    seeds = range(asked.seed * 100_000, asked.seed * 100_000 + asked.takes)
    report([run_one(seed, drums) for seed in seeds if asked.only in draw(seed).case], listed=asked.list)
    return 0


def report(every: Sequence[Told], *, listed: bool) -> None:
    """Print the sums, by case and in all, and the weights."""
    for case in CASES:
        ones = [one for one in every if one.story.case == case]
        if ones:
            print(f"{case}: {summed(ones)}")
    print(f"all: {summed(every)}")
    if not all(one.story.case == BEGUN_LATE for one in every):
        print(f"all but {BEGUN_LATE}: {summed([one for one in every if one.story.case != BEGUN_LATE])}")
    print("\n".join(weights(every)))
    for one in every if listed else ():
        if one.is_off or one.lost or one.unlike:
            print(line(one))


if __name__ == "__main__":
    sys.exit(main())
