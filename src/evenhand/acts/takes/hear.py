"""The act this is for: a recording goes in, what each hand did comes out.

The device that recorded a take may know when it counted in, and when its click sounded.
A click in headphones is not in the recording, so the ear has only the take's own tempo to judge by, and
where all notes sound alike it cannot tell which was the first. But the device knows when it gave out each
click and, once it was measured, how much later sound comes back through its microphone. So

- a take that begins where the count-in ended begins with the exercise's first note;
- a hit's asynchrony is its time less its note's, less the device's delay.

Conventions: times in seconds of the recording; ms, negative = early.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from pathlib import Path
from statistics import median

import evenhand
from evenhand.acts.takes.request import RecordingDevice, TakeRequest
from evenhand.errors import NothingHeard, WrongOptions
from evenhand.measuring.values import HeardTake
from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.library.strokes import is_drops
from evenhand.take import (
    EAR,
    SNARE_NOTES,
    Heard,
    Hit,
    MidiTake,
    OpensTakes,
    Progress,
    Remark,
    SoundTake,
    part_of,
)


def hear_take(
    path: Path,
    request: TakeRequest,
    *,
    opens: OpensTakes,
    midi_notes: Sequence[int] = SNARE_NOTES,
    progress: Progress | None = None,
) -> HeardTake:
    """Open a take, listen to it, measure it, and say what is worth saying."""
    take = opens(path, midi_notes=midi_notes, progress=part_of(progress, 0.0, 0.5))
    return hear_opened(take, request, path.name, part_of(progress, 0.5, 1.0))


def hear_opened(
    take: SoundTake | MidiTake, request: TakeRequest, name: str, progress: Progress | None = None
) -> HeardTake:
    """Listen to a take that was opened, measure it, and say what is worth saying."""
    dropped = request.exercise is not None and is_drops(request.exercise)
    if dropped:
        request = TakeRequest(click=request.click)  # bounces are no notes: they are judged as drops
    _check_beginning(request, take.facts.seconds)
    heard = _of_drops(take, request) if dropped else _listen(take, request, progress)
    heard = replace(heard, ear=EAR)
    _check_heard(heard, name)
    if request.device is not None and request.exercise is not None and request.tempo is not None:
        heard = known_by_device(heard, request.exercise, request.tempo, request.device)
    taken = HeardTake(
        input=take.facts,
        exercise=request.exercise,
        exercise_text=request.exercise_text,
        tempo=request.tempo,
        heard=heard,
        measures=None,
        findings=(),
        name=name,
        version=evenhand.__version__,
    )
    return judged(taken)


def _listen(take: SoundTake | MidiTake, request: TakeRequest, progress: Progress | None) -> Heard:
    """Hear strokes in sound, or read them from MIDI."""
    if isinstance(take, MidiTake):
        from evenhand.hearing.listen import listen_to_blows

        return listen_to_blows(
            take.times_s,
            take.levels_db,
            exercise=request.exercise,
            tempo=request.tempo,
            counted=request.device is not None,
            begins_at_s=request.begins_at_s,
        )
    from evenhand.hearing.listen import listen

    return listen(
        take.samples,
        take.rate_hz,
        exercise=request.exercise,
        tempo=request.tempo,
        click=request.click,
        counted=request.device is not None,
        begins_at_s=request.begins_at_s,
        pattern=request.pattern,
        progress=progress,
    )


def _of_drops(take: SoundTake | MidiTake, request: TakeRequest) -> Heard:
    """Hear drops, and say how many there were, and how many were left free."""
    from evenhand.acts.takes.drops import drops_in, listen_to_drops

    if isinstance(take, SoundTake):
        heard = listen_to_drops(take, with_click=request.click != "none")
    else:
        heard = _listen(take, request, None)
    drops = drops_in(heard)
    free = sum(drop.kind == "free" for drop in drops)
    return replace(heard, warnings=(*heard.warnings, Remark("drops heard", {"n": len(drops), "free": free})))


def _check_beginning(request: TakeRequest, seconds: float) -> None:
    """Refuse a beginning that the take does not reach."""
    if request.begins_at_s is not None and request.begins_at_s > seconds:
        must_be = f"within the take's {seconds:.1f} s"
        raise WrongOptions(got=f"a beginning at {request.begins_at_s:g} s", must_be=must_be)


def _check_heard(heard: Heard, name: str) -> None:
    """Refuse a take without strokes: there is nothing to say about it."""
    if not heard.hits and not heard.extra:
        do = "Put the recorder nearer to the pad, and record again."
        raise NothingHeard(got=f"{name}: there is sound, but no hits", do=do)


def judged(take: HeardTake) -> HeardTake:
    """Measure and judge what was heard in a take; blind, there is nothing to measure against."""
    if take.exercise is None or take.tempo is None:
        return replace(take, measures=None, findings=())
    from evenhand.measuring.measure import measure
    from evenhand.measuring.rules.findings import find

    measures = measure(take.heard, take.exercise, take.tempo)
    findings = find(take.heard, measures, take.exercise, take.tempo)
    return replace(take, measures=measures, findings=findings)


EARLIEST_S, LATEST_S = 0.12, 0.12  # how far from its moment the first note may be, beside the delay
MOST_DELAY_S = 0.35  # of a device that was not measured (phones: common practice)


def known_by_device(heard: Heard, exercise: Exercise, tempo: Tempo, device: RecordingDevice) -> Heard:
    """Return what was heard with what the device knows."""
    if heard.ambiguity and _begins_when_due(heard, exercise, device):
        heard = replace(heard, ambiguity=None)
    if device.headphones and device.latency_ms is not None:
        return against_click(heard, tempo, device.first_note_s + device.latency_ms / 1e3)
    return heard


def against_click(heard: Heard, tempo: Tempo, due_s: float) -> Heard:
    """Return what was heard with every note's asynchrony to its click; the first is due at ``due_s``.

    A stretch of playing may begin some beats late: the whole number of beats that lies nearest is taken
    off. A take that is judged by a click in the recording already, or was heard blind, stays as it is; so
    does one that the ear does not take for the exercise.
    """
    if heard.clock == "click" or heard.unlike or not _mains(heard.hits):
        return heard
    stretches = groupby(heard.hits, key=lambda hit: hit.stretch)
    hits = tuple(hit for _, group in stretches for hit in _timed(list(group), tempo, due_s))
    return replace(heard, hits=hits, clock="click")


def _begins_when_due(heard: Heard, exercise: Exercise, device: RecordingDevice) -> bool:
    """Tell whether the first hit is taken for the first note, and came when that was due."""
    first = next(iter(_mains(heard.hits)), None)
    if first is None or (first.repetition, first.position) != (1, exercise.struck[0]):
        return False
    late_s = first.time_s - device.first_note_s
    if device.latency_ms is not None:
        return -EARLIEST_S <= late_s - device.latency_ms / 1e3 <= LATEST_S
    return -EARLIEST_S <= late_s <= MOST_DELAY_S + LATEST_S


def _timed(hits: Sequence[Hit], tempo: Tempo, due_s: float) -> Iterator[Hit]:
    """Give one stretch's hits their asynchronies."""
    mains = _mains(hits)
    raw_s = [hit.time_s - due_s - (hit.written or 0.0) * tempo.whole_note_s for hit in mains]
    late_s = tempo.beat_s * round(median(raw_s) / tempo.beat_s) if raw_s else 0.0
    lates_ms = {id(hit): (raw - late_s) * 1e3 for hit, raw in zip(mains, raw_s, strict=True)}
    for hit in hits:
        yield replace(hit, asynchrony_ms=lates_ms[id(hit)]) if id(hit) in lates_ms else hit


def _mains(hits: Sequence[Hit]) -> list[Hit]:
    """Return the hits that are notes of the exercise, graces left out."""
    return [hit for hit in hits if hit.written is not None and not hit.grace]
