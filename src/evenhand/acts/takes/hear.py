"""The act this is for: a recording goes in, what each hand did comes out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import evenhand
from evenhand.acts.takes.device import known_by_device
from evenhand.acts.takes.request import Asked
from evenhand.errors import NothingHeard, WrongOptions
from evenhand.measuring.values import HeardTake
from evenhand.take import SNARE_NOTES, Heard, MidiTake, OpensTakes, Progress, SoundTake, part_of


def hear_take(
    path: Path,
    asked: Asked,
    *,
    opens: OpensTakes,
    midi_notes: Sequence[int] = SNARE_NOTES,
    progress: Progress | None = None,
) -> HeardTake:
    """Open a take, listen to it, measure it, and say what is worth saying."""
    take = opens(path, midi_notes=midi_notes, progress=part_of(progress, 0.0, 0.5))
    return hear_opened(take, asked, path.name, part_of(progress, 0.5, 1.0))


def hear_opened(
    take: SoundTake | MidiTake, asked: Asked, name: str, progress: Progress | None = None
) -> HeardTake:
    """Listen to a take that was opened, measure it, and say what is worth saying."""
    _check_beginning(asked, take.facts.seconds)
    heard = _listen(take, asked, progress)
    _check_heard(heard, name)
    if asked.device is not None and asked.exercise is not None and asked.tempo is not None:
        heard = known_by_device(heard, asked.exercise, asked.tempo, asked.device)
    taken = HeardTake(
        input=take.facts,
        exercise=asked.exercise,
        exercise_text=asked.exercise_text,
        tempo=asked.tempo,
        heard=heard,
        measures=None,
        findings=(),
        name=name,
        version=evenhand.__version__,
    )
    return judged(taken)


def _listen(take: SoundTake | MidiTake, asked: Asked, progress: Progress | None) -> Heard:
    """Hear strokes in sound, or read them from MIDI."""
    if isinstance(take, MidiTake):
        from evenhand.hearing.listen import listen_to_blows

        return listen_to_blows(
            take.times_s,
            take.levels_db,
            exercise=asked.exercise,
            tempo=asked.tempo,
            counted=asked.device is not None,
            begins_at_s=asked.begins_at_s,
        )
    from evenhand.hearing.listen import listen

    return listen(
        take.samples,
        take.rate_hz,
        exercise=asked.exercise,
        tempo=asked.tempo,
        click=asked.click,
        counted=asked.device is not None,
        begins_at_s=asked.begins_at_s,
        progress=progress,
    )


def _check_beginning(asked: Asked, seconds: float) -> None:
    """Refuse a beginning that the take does not reach."""
    if asked.begins_at_s is not None and asked.begins_at_s > seconds:
        must_be = f"within the take's {seconds:.1f} s"
        raise WrongOptions(got=f"a beginning at {asked.begins_at_s:g} s", must_be=must_be)


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
