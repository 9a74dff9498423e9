"""The act this is for: a recording goes in, what each hand did comes out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import evenhand
from evenhand.acts.takes.request import TakeRequest
from evenhand.errors import NothingHeard, WrongOptions
from evenhand.measuring.values import HeardTake
from evenhand.take import SNARE_NOTES, Heard, MidiTake, OpensTakes, Progress, SoundTake, part_of


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
    _check_beginning(request, take.facts.seconds)
    heard = _listen(take, request, progress)
    _check_heard(heard, name)
    if request.device is not None and request.exercise is not None and request.tempo is not None:
        from evenhand.acts.takes.device import known_by_device

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
        progress=progress,
    )


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
