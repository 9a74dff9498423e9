"""Watch a film of dropped sticks: each drop that was heard, with its heights as they are seen.

Whose hand a stick is does not matter here: of the sticks in the picture the one that comes down at a drop's
hits is taken. One colour of tape is enough.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

from evenhand.acts.takes.request import TakeRequest
from evenhand.acts.takes.watch import AUTO, WatchRequest, tapes_in, tapes_of_any_colour
from evenhand.errors import NothingSeen, UnreadableRecording
from evenhand.film import NO_FILMS, LooksAtFilms
from evenhand.music.exercise import HANDS, Hand
from evenhand.progress.bounce.restitution import HeardBounce, HeardDrop, SeenDrop
from evenhand.progress.bounce.seen import seen_drop
from evenhand.report.words.remarks import remark_words
from evenhand.report.words.watching import warning_words
from evenhand.take import Progress, Remark
from evenhand.watching.tapes import Survey, Tape, sought, survey
from evenhand.watching.values import SeenStroke, SetUpWarning, Watched
from evenhand.watching.watch import FilmRequest, watch

LEAST_FLIGHT_S = 0.12  # 1.8 cm high
ANY_TAPE = WatchRequest(TakeRequest(), {})


def drops_request(
    tape: str = AUTO, *, pad_cm: float | None = None, stick_cm: float | None = None
) -> WatchRequest:
    """Read what was typed of a film of drops.

    >>> drops_request("R=blue").tapes
    {'R': 'blue'}
    """
    return WatchRequest.read(TakeRequest(), tape, pad_cm=pad_cm, stick_cm=stick_cm, needs_hands=False)


def seen_too(
    path: Path,
    heard: HeardBounce,
    request: WatchRequest,
    *,
    films: LooksAtFilms,
    progress: Progress | None = None,
) -> HeardBounce:
    """Watch the drops where they came as a film; where nobody named its tapes and none is in it, say so."""
    if path.suffix.lower() in NO_FILMS or not films.is_film(path):
        return heard
    try:
        return see_drops(path, heard, request, films=films, progress=progress)
    except (NothingSeen, UnreadableRecording) as error:
        if request.tapes:
            raise
        why = remark_words(Remark("pictures not watched", {"why": str(error)}))
        return replace(heard, warnings=(*heard.warnings, why))


def see_drops(
    path: Path,
    heard: HeardBounce,
    request: WatchRequest = ANY_TAPE,
    *,
    films: LooksAtFilms,
    progress: Progress | None = None,
) -> HeardBounce:
    """Watch the drops that were heard; what to change about the filming stands among the warnings.

    Raises
    ------
    UnreadableRecording, StretchedTime
        Its pictures cannot be watched.
    NothingSeen
        No tape moves in it.
    """
    sample = films.sample(path)
    seen = survey(sample)
    tapes, missing = _tapes(seen, request, path.name)
    film = films.look(path, sought(tapes, sample, seen), progress)
    hits_s = tuple(sorted(time_s for drop in heard.drops for time_s in _large(drop)))
    known = FilmRequest(
        hits_s, frozenset(), request.pad_cm, request.stick_cm, request.heights, request.lifting
    )
    watched = watch(film, sample, seen, tapes, known)
    strokes = {stroke.time_s: stroke for stroke in watched.strokes}
    drops = tuple(replace(drop, seen=_seen(drop, strokes, watched)) for drop in heard.drops)
    warned = tuple(warning_words(each) for each in (*missing, *watched.warnings))
    return replace(heard, drops=drops, warnings=(*heard.warnings, *warned))


def _large(drop: HeardDrop) -> list[float]:
    """List the hits onto which a stick is seen to fall: the first, and those after long enough flights."""
    after = [end_s for start_s, end_s in pairwise(drop.hits_s) if end_s - start_s >= LEAST_FLIGHT_S]
    return [drop.hits_s[0], *after]


def _tapes(seen: Survey, request: WatchRequest, name: str) -> tuple[dict[Hand, Tape], list[SetUpWarning]]:
    """Find the tapes; where no colour was named, one is enough."""
    if request.tapes:
        return tapes_in(seen, request, name)
    return dict(zip(HANDS, tapes_of_any_colour(seen, name), strict=False)), []


def _seen(drop: HeardDrop, strokes: Mapping[float, SeenStroke], watched: Watched) -> SeenDrop | None:
    own = [strokes[time_s] for time_s in drop.hits_s if time_s in strokes]
    hands = Counter(stroke.hand for stroke in own if stroke.hand is not None)
    if not hands or not watched.sticks:
        return None
    stick, first = watched.sticks[hands.most_common(1)[0][0]], own[0]
    fall = None
    if first.preparation_cm is not None:
        fall = first.preparation_cm, first.preparation_sd_cm or 0.0
    return seen_drop(drop, stick.times_s, stick.height_cm, fall, watched.scale_sd)
