"""Hits of a heard take put right by hand, and everything measured anew.

Conventions: a take is the JSON of docs/json.md, before and after; a hit is named by its time as it stands
there, seconds. Repetitions count from 1, positions from 0. What a correction leaves alone keeps its time,
its level and its asynchrony to the digit; the smooth tempo, what is missed, figures and findings are new.

A hit that was not found, looked up in the recording where a teacher says that it is.

Conventions: times in seconds of the recording, levels in dB re full scale, as in the JSON of docs/json.md.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Literal, cast

import numpy as np
from numpy.typing import NDArray

from evenhand.acts.takes.document import heard_take_of, json_text
from evenhand.acts.takes.hear import judged
from evenhand.errors import WrongOptions, WrongUse
from evenhand.music.exercise import Exercise, Tempo
from evenhand.take import ExtraHit, ExtraReason, Heard, Hit, MidiTake, MissedNote, OpensTakes, Remark

Kind = Literal["no hit", "extra", "note", "added"]
Floats = NDArray[np.float64]
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


@dataclass(frozen=True, slots=True)
class _Blow:
    """One blow: ``place`` is its note, (repetition, position, whether a grace), None where it has none."""

    time_s: float
    level_db: float
    confidence: float
    place: tuple[int, int, bool] | None
    stretch: int | None = None
    asynchrony_ms: float | None = None
    reason: ExtraReason | None = None  # why it has no note, where the ear said so


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
    blows = _blows(take.heard)
    for correction in corrections:
        blows = _corrected(blows, correction, take.exercise)
    heard = _heard(take.heard, blows, take.exercise, take.tempo)
    if corrections:
        heard = replace(heard, warnings=_marked(heard.warnings, len(corrections)))
    return json_text(judged(replace(take, heard=heard)))


def corrected_hits(warnings: Sequence[Remark]) -> int:
    """Return how many hits of a take were put right by hand."""
    return sum(int(each.facts["n"]) for each in warnings if each.kind == "corrected")


def _marked(warnings: Sequence[Remark], more: int) -> tuple[Remark, ...]:
    """Say in the take itself that it was corrected, so that figures taken elsewhere tell it, too."""
    mark = Remark("corrected", {"n": corrected_hits(warnings) + more})
    return (*(each for each in warnings if each.kind != "corrected"), mark)


def _blows(heard: Heard) -> list[_Blow]:
    """Return everything that was struck, in order of time."""
    hits = [
        _Blow(hit.time_s, hit.level_db, hit.confidence, _place(hit), hit.stretch, hit.asynchrony_ms)
        for hit in heard.hits
    ]
    extra = [_Blow(hit.time_s, hit.level_db, SURE, None, reason=hit.reason) for hit in heard.extra]
    return sorted([*hits, *extra], key=lambda blow: blow.time_s)


def _place(hit: Hit) -> tuple[int, int, bool] | None:
    if hit.repetition is None or hit.position is None:
        return None
    return hit.repetition, hit.position, hit.grace


def _corrected(blows: list[_Blow], correction: Correction, exercise: Exercise) -> list[_Blow]:
    """Put one hit right."""
    if correction.kind == "added":
        blows = _with_one_more(blows, correction)
    at = _find(blows, correction.time_s)
    if correction.kind == "no hit":
        return [*blows[:at], *blows[at + 1 :]]
    if correction.kind == "extra":
        return [*blows[:at], _loose(blows[at]), *blows[at + 1 :]]
    place = _wanted(correction, exercise)
    room = 1 if not place[2] else len(exercise.notes[place[1]].graces)
    taken = [i for i, blow in enumerate(blows) if blow.place == place and i != at]
    freed = set(taken[: max(0, len(taken) + 1 - room)])
    out = [_loose(blow) if i in freed else blow for i, blow in enumerate(blows)]
    out[at] = _Blow(out[at].time_s, out[at].level_db, SURE, place)
    return out


def _with_one_more(blows: list[_Blow], correction: Correction) -> list[_Blow]:
    """Add a hit that was not found; where there is one already, that one is to be chosen."""
    if correction.level_db is None:
        raise WrongUse("a hit that is added: must have its level.")
    there = next((blow for blow in blows if abs(blow.time_s - correction.time_s) < APART_S), None)
    if there is not None:
        got = f"a hit at {correction.time_s:.3f} s, where one was heard ({there.time_s:.3f} s)"
        raise WrongOptions(got=got, must_be="a place without a hit; or choose that hit")
    more = _Blow(correction.time_s, correction.level_db, SURE, None)
    return sorted([*blows, more], key=lambda blow: blow.time_s)


def _loose(blow: _Blow) -> _Blow:
    return _Blow(blow.time_s, blow.level_db, SURE, None)


def _find(blows: Sequence[_Blow], time_s: float) -> int:
    """Find the hit that a time names."""
    near = min(range(len(blows)), key=lambda i: abs(blows[i].time_s - time_s), default=None)
    if near is None or not abs(blows[near].time_s - time_s) < SAME_S:
        raise WrongOptions(got=f"a hit at {time_s:g} s", must_be="the time of a hit of this take")
    return near


def _wanted(correction: Correction, exercise: Exercise) -> tuple[int, int, bool]:
    """Check the note that a hit is to have."""
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


def _heard(heard: Heard, blows: list[_Blow], exercise: Exercise, tempo: Tempo) -> Heard:
    """Tell what was heard from blows that know their notes."""
    number = {position: i for i, position in enumerate(exercise.struck)}
    many = len(exercise.struck)

    def at(blow: _Blow) -> int:
        repetition, position, _ = blow.place or (1, exercise.struck[0], False)
        return (repetition - 1) * many + number[position]

    mains = [blow for blow in blows if blow.place is not None and not blow.place[2]]
    _check_order(mains, [at(blow) for blow in mains], exercise)
    mains = _with_stretches(mains, [at(blow) for blow in mains])
    numbers = np.array([at(blow) for blow in mains], dtype=np.intp)
    written = np.array([_written(blow, exercise) for blow in mains])
    deviations = _deviations_ms(mains, numbers, written)
    own = dict(zip(numbers.tolist(), mains, strict=True))
    clicks = _ClickLine(heard, tempo) if heard.clock == "click" else None
    hits = [
        _hit(blow, exercise, deviation, None if clicks is None else clicks.asynchrony_ms(blow, at_written))
        for blow, deviation, at_written in zip(mains, deviations, written.tolist(), strict=True)
    ]
    graces = [blow for blow in blows if blow.place is not None and blow.place[2]]
    hits += list(_grace_hits(graces, own, at, exercise))
    missed = _missed(mains, numbers.tolist(), graces, exercise)
    return replace(
        heard,
        hits=tuple(sorted(hits, key=lambda hit: hit.time_s)),
        missed=missed,
        extra=tuple(_extra(blow, mains) for blow in blows if blow.place is None),
    )


def _extra(blow: _Blow, mains: Sequence[_Blow]) -> ExtraHit:
    """Tell a blow that has no note; by when it comes, unless the ear has said more of it."""
    reason: ExtraReason = "between"
    if blow.time_s < mains[0].time_s:
        reason = "count-in" if blow.reason == "count-in" else "before the start"
    elif blow.time_s > mains[-1].time_s:
        reason = "after"
    elif blow.reason == "too soft":
        reason = "too soft"
    return ExtraHit(blow.time_s, blow.level_db, reason)


def _check_order(mains: Sequence[_Blow], numbers: Sequence[int], exercise: Exercise) -> None:
    """Refuse hits that come in another order than their notes."""
    if not mains:
        raise WrongOptions(got="a take without a hit on any note", must_be="at least one hit")
    for (before, k), (after, j) in pairwise(zip(mains, numbers, strict=True)):
        if j <= k:
            got = f"{_named(after, exercise)} after {_named(before, exercise)}"
            raise WrongOptions(got=got, must_be="hits in the order of their notes")


def _named(blow: _Blow, exercise: Exercise) -> str:
    """Name a note and its hit for people."""
    repetition, position, _ = blow.place or (0, 0, False)
    hand = exercise.notes[position].hand
    return f"note {position + 1} ({hand}) of repetition {repetition} at {blow.time_s:.3f} s"


def _written(blow: _Blow, exercise: Exercise) -> float:
    repetition, position, _ = blow.place or (1, 0, False)
    return float(exercise.written(repetition, position))


def _with_stretches(mains: Sequence[_Blow], numbers: Sequence[int]) -> list[_Blow]:
    """Put hits that are new to their notes into the stretch of the nearer neighbour, counted in notes."""
    out = list(mains)
    for i, blow in enumerate(out):
        if blow.stretch is not None:
            continue
        before = next((k for k in range(i - 1, -1, -1) if out[k].stretch is not None), None)
        after = next((k for k in range(i + 1, len(out)) if out[k].stretch is not None), None)
        near = [k for k in (before, after) if k is not None]
        stretch = out[min(near, key=lambda k: abs(numbers[k] - numbers[i]))].stretch if near else 0
        out[i] = replace(blow, stretch=stretch)
    return out


def _deviations_ms(mains: Sequence[_Blow], numbers: NDArray[np.intp], written: Floats) -> list[float]:
    from evenhand.hearing.alignment.score import smooth_times

    times_s = np.array([blow.time_s for blow in mains])
    stretches = np.array([blow.stretch or 0 for blow in mains], dtype=np.intp)
    return list(((times_s - smooth_times(times_s, written, numbers, stretches)) * 1e3).tolist())


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

    def asynchrony_ms(self, blow: _Blow, written: float) -> float | None:
        """Return how late a hit came; as it was told, where its note is the same."""
        if blow.asynchrony_ms is not None:
            return blow.asynchrony_ms
        points = self._points.get(blow.stretch or 0)
        if not points:
            return None
        first_s = float(np.median([due - self._slope * w for w, due in points]))
        return (blow.time_s - first_s - self._slope * written) * 1e3


def _hit(blow: _Blow, exercise: Exercise, deviation_ms: float, asynchrony_ms: float | None) -> Hit:
    repetition, position, _ = blow.place or (1, 0, False)
    return Hit(
        time_s=blow.time_s,
        level_db=blow.level_db,
        confidence=blow.confidence,
        hand=exercise.notes[position].hand,
        repetition=repetition,
        position=position,
        asynchrony_ms=asynchrony_ms,
        deviation_ms=deviation_ms,
        stretch=blow.stretch or 0,
        written=_written(blow, exercise),
    )


def _grace_hits(
    graces: Sequence[_Blow],
    own: dict[int, _Blow],
    at: Callable[[_Blow], int],
    exercise: Exercise,
) -> Iterator[Hit]:
    """Tell grace notes: the last before its note has the last grace's hand."""
    by_note: dict[int, list[_Blow]] = {}
    for blow in graces:
        by_note.setdefault(at(blow), []).append(blow)
    for number, blows in by_note.items():
        for rank, blow in enumerate(reversed(blows), start=1):
            repetition, position, _ = blow.place or (1, 0, True)
            hands = exercise.notes[position].graces
            yield Hit(
                time_s=blow.time_s,
                level_db=blow.level_db,
                confidence=blow.confidence,
                hand=hands[-min(rank, len(hands))],
                repetition=repetition,
                position=position,
                grace=True,
                stretch=own[number].stretch or 0 if number in own else blow.stretch or 0,
                written=_written(blow, exercise),
            )


def _missed(
    mains: Sequence[_Blow], numbers: Sequence[int], graces: Sequence[_Blow], exercise: Exercise
) -> tuple[MissedNote, ...]:
    """Find what was passed over between the first and the last note of each stretch."""
    many = len(exercise.struck)
    out = []
    for (before, k), (after, j) in pairwise(zip(mains, numbers, strict=True)):
        if before.stretch == after.stretch:
            out += [MissedNote(n // many + 1, exercise.struck[n % many]) for n in range(k + 1, j)]
    had = [blow.place[:2] for blow in graces if blow.place is not None]
    for blow in mains:
        repetition, position, _ = blow.place or (1, 0, False)
        wanting = len(exercise.notes[position].graces) - had.count((repetition, position))
        out += [MissedNote(repetition, position, grace=True)] * max(0, wanting)
    return tuple(sorted(out, key=lambda note: (note.repetition, note.position)))


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
