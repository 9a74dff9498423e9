"""Hits of a heard take put right by hand, and everything measured anew.

Conventions: a take is the JSON of docs/json.md, before and after; a hit is named by its time as it stands
there, seconds. Repetitions count from 1, positions from 0. What a correction leaves alone keeps its time,
its level and its asynchrony to the digit; the smooth tempo, what is missed, figures and findings are new.

A hit that was not found, looked up in the recording where a teacher says that it is.

Conventions: times in seconds of the recording, levels in dB re full scale, as in the JSON of docs/json.md.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Literal, cast

import numpy as np
from numpy.typing import NDArray

from evenhand.acts.takes.document import heard_take_of
from evenhand.acts.takes.hear import judged
from evenhand.acts.takes.seen import text_beside
from evenhand.errors import WrongOptions, WrongUse
from evenhand.music.exercise import Exercise, Tempo
from evenhand.take import ExtraHit, ExtraReason, Heard, Hit, MidiTake, OpensTakes, Remark

Kind = Literal["no hit", "extra", "note", "added"]
KINDS: tuple[Kind, ...] = ("no hit", "extra", "note", "added")
SAME_S = 2e-6  # times nearer than this name the same hit
APART_S = 0.004  # hits nearer than this are one
SURE = 1.0  # the confidence of what a teacher says
MOST_REPETITIONS = 10_000


@dataclass(frozen=True, slots=True)
class Correction:
    """What a hit is indeed: none at all, one that no note accounts for, or a note's; or one not found.

    ``level_db`` is that of a hit that is added.
    """

    time_s: float
    kind: Kind
    repetition: int | None = None
    position: int | None = None
    grace: bool = False
    level_db: float | None = None


Blows = list[Hit | ExtraHit]  # everything that was struck
NO_STRETCH = -1  # of a hit that is new to its note


def correct_take(heard_json: str, corrections: Sequence[Correction]) -> str:
    """Put hits right, one after the other, and measure the take again.

    A hit that is given a note which another hit had turns that one into an extra hit.

    Raises
    ------
    WrongOptions
        Where there is no such hit or note, where the hits would come in another order than
        their notes, where none would be left, or where the take was heard without its exercise.
    """
    take = heard_take_of(heard_json)
    if take.exercise is None or take.tempo is None or take.heard.unlike is not None:
        got = "a take that was heard without its exercise"
        raise WrongOptions(got=got, must_be="one whose hits stand on notes; have it heard again")
    blows: Blows = [*take.heard.hits, *take.heard.extra]
    for correction in corrections:
        blows = _corrected(blows, correction, take.exercise)
    heard = _heard(take.heard, blows, take.exercise, take.tempo)
    if corrections:
        heard = replace(heard, warnings=_marked(heard.warnings, len(corrections)))
    return text_beside(heard_json, judged(replace(take, heard=heard)))


def corrected_hits(warnings: Sequence[Remark]) -> int:
    """Return how many hits of a take were put right by hand."""
    return sum(int(each.facts["n"]) for each in warnings if each.kind == "corrected")


def _marked(warnings: Sequence[Remark], more: int) -> tuple[Remark, ...]:
    """Say in the take itself that it was corrected, so that figures taken elsewhere tell it, too."""
    mark = Remark("corrected", {"n": corrected_hits(warnings) + more})
    return (*(each for each in warnings if each.kind != "corrected"), mark)


def _corrected(blows: Blows, correction: Correction, exercise: Exercise) -> Blows:
    """Put one hit right."""
    if correction.kind == "added":
        blows = [*blows, _one_more(blows, correction)]
    chosen = _find(blows, correction.time_s)
    others = [blow for blow in blows if blow is not chosen]
    if correction.kind == "no hit":
        return others
    if correction.kind == "extra":
        return [*others, _loose(chosen)]
    note = _checked_note(correction, exercise)
    room = len(exercise.notes[note[1]].graces) if correction.grace else 1
    same = [blow for blow in _hits_of(others) if (blow.repetition, blow.position, blow.grace) == note]
    freed = same[: max(0, len(same) + 1 - room)]
    kept = [blow for blow in others if blow not in freed]
    new = Hit(chosen.time_s, chosen.level_db, SURE, None, *note, stretch=NO_STRETCH)
    return [*kept, *(_loose(blow) for blow in freed), new]


def _hits_of(blows: Blows) -> list[Hit]:
    """List those that have a note, in order of time."""
    return sorted((blow for blow in blows if isinstance(blow, Hit)), key=lambda hit: hit.time_s)


def _one_more(blows: Blows, correction: Correction) -> ExtraHit:
    """Return a hit that was not found; where there is one already, that one is to be chosen."""
    if correction.level_db is None:
        raise WrongUse("a hit that is added: must have its level.")
    there = next((blow for blow in blows if abs(blow.time_s - correction.time_s) < APART_S), None)
    if there is not None:
        got = f"a hit at {correction.time_s:.3f} s, where one was heard ({there.time_s:.3f} s)"
        raise WrongOptions(got=got, must_be="a place without a hit; or choose that hit")
    return ExtraHit(correction.time_s, correction.level_db)


def _loose(blow: Hit | ExtraHit) -> ExtraHit:
    return ExtraHit(blow.time_s, blow.level_db)


def _find(blows: Blows, time_s: float) -> Hit | ExtraHit:
    """Find the hit that a time names."""
    near = min(blows, key=lambda blow: abs(blow.time_s - time_s), default=None)
    if near is None or not abs(near.time_s - time_s) < SAME_S:
        raise WrongOptions(got=f"a hit at {time_s:g} s", must_be="the time of a hit of this take")
    return near


def _checked_note(correction: Correction, exercise: Exercise) -> tuple[int, int, bool]:
    """Check the note that a hit is to have: its repetition, its position, whether it is a grace."""
    repetition, position = correction.repetition, correction.position
    if repetition is None or not 1 <= repetition <= MOST_REPETITIONS:
        raise WrongOptions(got=f"repetition {repetition}", must_be="a repetition, counted from 1")
    if position is None or position not in exercise.struck:
        got = "no note" if position is None else f"note {position + 1}"
        must_be = f"a note of the exercise that is no rest, 1 to {len(exercise.notes)}"
        raise WrongOptions(got=got, must_be=must_be)
    if correction.grace and not exercise.notes[position].graces:
        raise WrongOptions(got=f"a grace of note {position + 1}", must_be="a note that is written with one")
    return repetition, position, correction.grace


def _heard(heard: Heard, blows: Blows, exercise: Exercise, tempo: Tempo) -> Heard:
    """Return what was heard, of hits that know their notes; the ear's own step makes it anew."""
    from evenhand.hearing.alignment.recovery import Matched
    from evenhand.hearing.alignment.score import Score
    from evenhand.hearing.build_result import build_result
    from evenhand.hearing.onsets.attack import TimedHits

    hits, place = _hits_of(blows), {position: i for i, position in enumerate(exercise.struck)}
    numbers = [((hit.repetition or 1) - 1) * len(place) + place[hit.position or 0] for hit in hits]
    mains = [(hit, number) for hit, number in zip(hits, numbers, strict=True) if not hit.grace]
    _check_order(mains, exercise)
    times_s, ones = np.array([hit.time_s for hit in hits]), np.ones(len(hits))
    matched = Matched(
        times_s,
        np.array(numbers, dtype=np.intp),
        np.array(_stretches(hits, numbers, mains), dtype=np.intp),
        np.array(_grace_ranks(hits, numbers, exercise), dtype=np.intp),
        ones,
    )
    timed = TimedHits(times_s, np.array([hit.level_db for hit in hits]), ones, np.nan * ones)
    result = build_result(Score.of(exercise, tempo), matched, timed, (), None)
    clicks = _ClickLine(heard, tempo) if heard.clock == "click" else None
    return replace(
        heard,
        hits=tuple(_as_before(new, hit, clicks) for new, hit in zip(result.hits, hits, strict=True)),
        missed=tuple(note for note in result.missed if note not in heard.hidden),
        hidden=tuple(note for note in result.missed if note in heard.hidden),
        extra=_extra(blows, mains[0][0].time_s, mains[-1][0].time_s),
    )


def _as_before(new: Hit, hit: Hit, clicks: _ClickLine | None) -> Hit:
    """Return a hit as it is told anew, with what the ear knew of it, and its click."""
    asynchrony_ms = None
    if clicks is not None and not hit.grace:
        asynchrony_ms = clicks.asynchrony_ms(replace(hit, stretch=new.stretch), new.written or 0.0)
    return replace(new, confidence=hit.confidence, time_se_ms=hit.time_se_ms, asynchrony_ms=asynchrony_ms)


def _extra(blows: Blows, first_s: float, last_s: float) -> tuple[ExtraHit, ...]:
    """Tell the hits that have no note; why by when they come, unless the ear has said more of it."""
    extra = sorted((blow for blow in blows if isinstance(blow, ExtraHit)), key=lambda blow: blow.time_s)
    return tuple(replace(blow, reason=_reason(blow, first_s, last_s)) for blow in extra)


def _reason(blow: ExtraHit, first_s: float, last_s: float) -> ExtraReason:
    if blow.time_s < first_s:
        return "count-in" if blow.reason == "count-in" else "before the start"
    if blow.time_s > last_s:
        return "after"
    return "too soft" if blow.reason == "too soft" else "between"


def _check_order(mains: Sequence[tuple[Hit, int]], exercise: Exercise) -> None:
    """Refuse hits that come in another order than their notes."""
    if not mains:
        raise WrongOptions(got="a take without a hit on any note", must_be="at least one hit")
    for (before, k), (after, j) in pairwise(mains):
        if j <= k:
            got = f"{_named(after, exercise)} after {_named(before, exercise)}"
            raise WrongOptions(got=got, must_be="hits in the order of their notes")


def _named(hit: Hit, exercise: Exercise) -> str:
    """Name a note and its hit for people."""
    position = hit.position or 0
    hand = exercise.notes[position].hand
    return f"note {position + 1} ({hand}) of repetition {hit.repetition} at {hit.time_s:.3f} s"


def _stretches(hits: Sequence[Hit], numbers: Sequence[int], mains: Sequence[tuple[Hit, int]]) -> list[int]:
    """Return each hit's stretch: of one that is new to its note, its nearest neighbour's, counted in notes.

    A grace is in the stretch of its note.
    """
    known = [(number, hit.stretch) for hit, number in mains if hit.stretch != NO_STRETCH]
    own: dict[int, int] = {}
    for hit, number in mains:
        near = min(known, key=lambda each: abs(each[0] - number), default=(0, 0))
        own[number] = near[1] if hit.stretch == NO_STRETCH else hit.stretch
    return [own.get(number, max(0, hit.stretch)) for hit, number in zip(hits, numbers, strict=True)]


def _grace_ranks(hits: Sequence[Hit], numbers: Sequence[int], exercise: Exercise) -> list[int]:
    """Return 0 for notes; of grace notes the last before its note is the first."""
    out, counted = [], Counter[int]()
    for hit, number in zip(reversed(hits), reversed(numbers), strict=True):
        if hit.grace:
            counted[number] += 1
        many = len(exercise.notes[hit.position or 0].graces)
        out.append(min(counted[number], many) if hit.grace else 0)
    return out[::-1]


class _ClickLine:
    """When the click of each written time sounded, stretch by stretch, from the hits that tell."""

    def __init__(self, heard: Heard, tempo: Tempo) -> None:
        self._points: dict[int, list[tuple[float, float]]] = {}
        for hit in heard.hits:
            if hit.asynchrony_ms is not None and hit.written is not None:
                due_s = hit.time_s - hit.asynchrony_ms / 1e3
                self._points.setdefault(hit.stretch, []).append((hit.written, due_s))
        self._slope = tempo.whole_note_s
        longest = max(self._points.values(), key=len, default=[])
        if len({w for w, _ in longest}) > 1:
            at, due = np.array(longest).T
            self._slope = float(np.polyfit(at, due, 1)[0])

    def asynchrony_ms(self, hit: Hit, written: float) -> float | None:
        """Return how late a hit came; as it stands there, where its note is the same."""
        if hit.asynchrony_ms is not None:
            return hit.asynchrony_ms
        points = self._points.get(hit.stretch)
        if not points:
            return None
        first_s = float(np.median([due - self._slope * w for w, due in points]))
        return (hit.time_s - first_s - self._slope * written) * 1e3


NEAR_S = 0.011  # the sound's rise is looked for this near the moment that is said


def in_the_sound(correction: Correction, heard_json: str, path: Path, opens: OpensTakes) -> Correction:
    """Return a hit that is added, with its time and its level as the recording has them.

    It is measured beside those that were heard, whose attacks show what a hit looks like.
    """
    from evenhand.hearing.onsets.attack import time_hits

    take = opens(path)
    if isinstance(take, MidiTake):
        raise WrongOptions(got="a hit to be added to a MIDI file", must_be="a recording of sound")
    seconds = len(take.samples) / take.rate_hz
    if not 0 < correction.time_s < seconds:
        got = f"a hit at {correction.time_s:g} s"
        raise WrongOptions(got=got, must_be=f"within the take's {seconds:.1f} s")
    heard = heard_take_of(heard_json).heard
    times = np.array(sorted([correction.time_s, *(hit.time_s for hit in heard.hits)]))
    timed = time_hits(cast("NDArray[np.float32]", take.samples), take.rate_hz, times)
    at = int(np.flatnonzero(times == correction.time_s)[0])
    near = abs(float(timed.times_s[at]) - correction.time_s) < NEAR_S
    time_s = float(timed.times_s[at]) if near else correction.time_s
    return replace(correction, time_s=time_s, level_db=float(timed.levels_db[at]))
