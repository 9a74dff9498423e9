"""A take that came as a video: what its form says of the film, and how it is watched beside being heard.

Conventions: what the form said stands among the take's facts, ``TAPE`` and ``PAD_CM``; and of a film
that the stand took beside its recording ``STARTS_S``, when it begins in the recording, seconds. Where the
pictures cannot be watched the take is heard all the same and says why, unless its time is stretched: then
its sound is no playing's either.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from evenhand.acts.takes.document import json_text
from evenhand.acts.takes.request import TakeRequest
from evenhand.acts.takes.seen import text_beside
from evenhand.acts.takes.watch import AUTO, WatchRequest, see, seen_json_text
from evenhand.errors import (
    NotFound,
    NothingSeen,
    UnreadableRecording,
    WrongOptions,
)
from evenhand.film import NO_FILMS, LooksAtFilms
from evenhand.measuring.values import HeardTake
from evenhand.music.strokes.heights import stroke_class
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import StudioTake
from evenhand.take import Progress, Remark

TAPE, PAD_CM, STARTS_S = "tape", "pad_cm", "film_starts_s"  # among a take's facts
MOST_STARTS_S = 10.0
CM = "a number of centimetres, such as 30"


def film_facts(form: Mapping[str, str]) -> dict[str, str]:
    """Read what a form says of a film; nothing where it says nothing.

    Raises
    ------
    WrongOptions
        Naming what cannot be read.
    """
    typed = {name: form.get(name, "").strip() for name in (TAPE, PAD_CM)}
    facts = {name: text.replace(",", ".") if name == PAD_CM else text for name, text in typed.items() if text}
    WatchRequest.read(TakeRequest(), facts.get(TAPE, AUTO), pad_cm=_cm(facts.get(PAD_CM)), needs_hands=False)
    return {name: text for name, text in facts.items() if text.lower() != AUTO}


def asked_to_watch(facts: Mapping[str, str], asked: TakeRequest, stroke: str | None) -> WatchRequest:
    """Say how a take's film is to be watched."""
    return WatchRequest.read(asked, facts.get(TAPE, AUTO), pad_cm=_cm(facts.get(PAD_CM)), stroke=stroke)


def _cm(text: str | None) -> float | None:
    try:
        return None if text is None else float(text)
    except ValueError:
        raise WrongOptions(got=f"the pad's width {text!r}", must_be=CM) from None


def _starts_s(text: str | None) -> float:
    """Read when a film that was taken beside the recording begins in it; 0 where that cannot be."""
    try:
        starts_s = float(text or 0.0)
    except ValueError:
        return 0.0
    return starts_s if abs(starts_s) <= MOST_STARTS_S else 0.0


def film_of(studio: Studio, take: StudioTake, films: LooksAtFilms) -> Path | None:
    """Find a take's film: what came in, or what was kept of it; None where it is a sound."""
    for key in (take.recording, take.original):
        if key is not None and Path(key).suffix not in NO_FILMS:
            try:
                place = studio.data.recordings.path(key)
            except NotFound:
                continue
            if films.is_film(place):
                return place
    return None


def text_of(
    take: StudioTake,
    heard: HeardTake,
    film: Path | None,
    asked: TakeRequest,
    *,
    films: LooksAtFilms,
    progress: Progress | None,
) -> str:
    """Write what was heard of a take, and what can be seen in its film or was seen before.

    Raises
    ------
    StretchedTime
        It is slow motion.
    """
    if film is None:
        return text_beside(take.heard, heard, stroke_class(take.stroke))
    try:
        request = asked_to_watch(take.facts, asked, take.stroke)
        sample = films.sample(film)
        starts_s = 0.0 if take.original is None else _starts_s(take.facts.get(STARTS_S))
        seen = see(film, heard, sample, request, films=films, progress=progress, starts_s=starts_s)
        return seen_json_text(seen)
    except (UnreadableRecording, NothingSeen, WrongOptions) as error:
        why = Remark("pictures not watched", {"why": str(error)})
        warnings = (*heard.heard.warnings, why)
        return json_text(replace(heard, heard=replace(heard.heard, warnings=warnings)))
