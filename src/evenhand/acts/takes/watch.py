"""Watch a take: hear its sound, find the sticks in its pictures, and join the two.

The hits come from the ear, with their times; the pictures say which hand made each, from how high, and how
the stick rose. Nothing of a film is kept: what comes back are figures.

Conventions: as in ``film`` and ``watching/values``; a hit that the ear could not give a note is watched too.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import isfinite
from pathlib import Path

import evenhand
from evenhand.acts.documents import Json, json_of, plain
from evenhand.acts.takes.document import SEEN_ID, TAKE_DIGITS, as_json
from evenhand.acts.takes.hear import hear_opened, judged
from evenhand.acts.takes.request import TakeRequest
from evenhand.errors import NothingSeen, WrongOptions
from evenhand.film import FilmFacts, FilmSample, LooksAtFilms, SeenFilm
from evenhand.measuring.seen import (
    SURE_HAND,
    AskedStroke,
    SeenTake,
    balance_of,
    hands_seen,
    heights_by_position,
    seen_findings,
)
from evenhand.measuring.values import ORDER, HeardTake
from evenhand.music.exercise import HANDS, Exercise, Hand, Tempo
from evenhand.music.strokes.heights import COMMON_HEIGHTS, StrokeClass, StrokeHeights, stroke_class
from evenhand.music.strokes.plan import StrokePlan, plan_strokes
from evenhand.report.words.watching import warning_words
from evenhand.take import Heard, Hit, OpensTakes, Progress, part_of
from evenhand.watching.peaks import COMMON_LIFT_SCALE
from evenhand.watching.sticks import COMMON_STICK_CM
from evenhand.watching.strokes import class_of
from evenhand.watching.tapes import (
    HUES_DEG,
    Survey,
    Tape,
    found_tapes,
    named_tape,
    sought,
    survey,
)
from evenhand.watching.values import LiftScale, SeenStick, SeenStroke, SetUpWarning, Watched
from evenhand.watching.watch import FilmRequest, watch

AUTO = "auto"
SMALLEST_CM, LARGEST_PAD_CM, LARGEST_STICK_CM = 10.0, 60.0, 60.0
TAPE_HELP = "Put a strip of coloured tape behind each stick's tip, blue on the one and green on the other."
WAY_FPS = 60.0  # heights over time are written so close
TOO_SOFT = "too soft"  # the reason of an extra hit that may be none
OTHERS_OF_ONE_TAPE = 0.2  # of the strokes are another hand's: more, and its tape is missed
OTHERS_AGREE = 0.5  # of the strokes with the written hand: less, and the two tapes are the other way round


@dataclass(frozen=True, slots=True)
class WatchRequest:
    """What a film is to be watched as. ``tapes`` is empty where their colours are to be found.

    ``stroke`` is the class that was to be played from; None where nobody says.
    """

    take: TakeRequest
    tapes: Mapping[Hand, str]
    pad_cm: float | None = None
    stick_cm: float = COMMON_STICK_CM
    stroke: StrokeClass | None = None
    heights: StrokeHeights = COMMON_HEIGHTS
    lifting: LiftScale = COMMON_LIFT_SCALE

    @classmethod
    def read(
        cls,
        take: TakeRequest,
        tape: str = AUTO,
        *,
        pad_cm: float | None = None,
        stick_cm: float | None = None,
        stroke: str | None = None,
        lifting: LiftScale = COMMON_LIFT_SCALE,
        needs_hands: bool = True,
    ) -> WatchRequest:
        """Read what was typed; ``needs_hands``: the hands must be named, or told by an exercise.

        >>> WatchRequest.read(TakeRequest(), "R=blue, L=green").tapes
        {'R': 'blue', 'L': 'green'}
        """
        tapes = tapes_of(tape)
        if needs_hands and not tapes and take.blind:
            must_be = "the hands' colours, such as R=blue,L=green: without an exercise nothing tells them"
            raise WrongOptions(got="no exercise and no tape named", must_be=must_be)
        _check_cm("the pad", pad_cm, LARGEST_PAD_CM)
        _check_cm("the stick", stick_cm, LARGEST_STICK_CM)
        asked = stroke_class(stroke)
        if stroke is not None and asked is None:
            raise WrongOptions(got=f"the stroke {stroke!r}", must_be="tap, half or full")
        return cls(take, tapes, pad_cm, stick_cm or COMMON_STICK_CM, asked, lifting=lifting)


def tapes_of(text: str) -> dict[Hand, str]:
    """Read the hands' colours; empty for ``auto``."""
    if text.strip().lower() == AUTO:
        return {}
    tapes: dict[Hand, str] = {}
    for part in text.split(","):
        letter, _, colour = (piece.strip() for piece in part.partition("="))
        hand = next((hand for hand in HANDS if hand == letter.upper()), None)
        if hand is None or colour.lower() not in HUES_DEG or hand in tapes:
            must_be = (
                f"auto, or a colour for each hand, such as R=blue,L=green; colours: {', '.join(HUES_DEG)}"
            )
            raise WrongOptions(got=f"the tape {part.strip()!r}", must_be=must_be)
        tapes[hand] = colour.lower()
    if len(set(tapes.values())) < len(tapes):
        raise WrongOptions(got=f"{tapes['R']} for both hands", must_be="another colour on each stick")
    return {hand: tapes[hand] for hand in HANDS if hand in tapes}


def _check_cm(what: str, size_cm: float | None, largest_cm: float) -> None:
    if size_cm is not None and not SMALLEST_CM <= size_cm <= largest_cm:
        must_be = f"{SMALLEST_CM:g} to {largest_cm:g} cm"
        raise WrongOptions(got=f"{size_cm:g} cm for {what}", must_be=must_be)


def watch_take(
    path: Path,
    request: WatchRequest,
    *,
    opens: OpensTakes,
    films: LooksAtFilms,
    progress: Progress | None = None,
) -> SeenTake:
    """Hear a film, watch it, and say what is worth saying.

    Raises
    ------
    UnreadableRecording, NoSound, NothingHeard
        As of any take; or its pictures cannot be read.
    StretchedTime
        It is slow motion.
    NothingSeen
        No tape moves in it, or only one that nobody named.
    """
    sample = films.sample(path)  # first: it soon says what cannot be watched, however long it is
    take = opens(path, progress=part_of(progress, 0.05, 0.15))
    heard = hear_opened(take, request.take, path.name, part_of(progress, 0.15, 0.3))
    return see(path, heard, sample, request, films=films, progress=part_of(progress, 0.3, 1.0))


def see(
    path: Path,
    heard: HeardTake,
    sample: FilmSample,
    request: WatchRequest,
    *,
    films: LooksAtFilms,
    progress: Progress | None = None,
    starts_s: float = 0.0,
) -> SeenTake:
    """Watch a film whose sound was heard; errors as of ``watch_take``.

    ``starts_s`` is when it begins in the recording that was heard, where that is another file.
    """
    seen = survey(sample)
    tapes, missing = tapes_in(seen, request, path.name)
    film = films.look(path, sought(tapes, sample, seen), progress)
    film = replace(film, times_s=film.times_s + starts_s)
    watched, asked = _watched(film, sample, seen, tapes, request, heard)
    watched = replace(watched, warnings=(*missing, *_of_one_tape(request, watched), *watched.warnings))
    return joined(heard, sample.facts, watched, asked, request)


def tapes_in(seen: Survey, request: WatchRequest, name: str) -> tuple[dict[Hand, Tape], list[SetUpWarning]]:
    """Find the tapes: those that were named, or two of any colours."""
    if not request.tapes:
        found = tapes_of_any_colour(seen, name)
        if len(found) < 2:
            got = f"{name}: only one colour of tape moves in it, {found[0].name}"
            do = f"Put another colour on each stick; or say which hand has it, as R={found[0].name}."
            raise NothingSeen(got=got, do=do)
        return dict(zip(HANDS, found, strict=True)), []
    named = {hand: named_tape(seen, colour) for hand, colour in request.tapes.items()}
    tapes = {hand: tape for hand, tape in named.items() if tape is not None}
    if not tapes:
        colours = " and no ".join(request.tapes.values())
        raise NothingSeen(got=f"{name}: no {colours} tape moves in it", do=TAPE_HELP)
    return tapes, [
        SetUpWarning("tape not found", {"hand": hand, "colour": request.tapes[hand]})
        for hand in named.keys() - tapes.keys()
    ]


def tapes_of_any_colour(seen: Survey, name: str) -> tuple[Tape, ...]:
    """Find the tapes whatever their colours are: one or two."""
    found = found_tapes(seen)
    if not found:
        raise NothingSeen(got=f"{name}: no coloured tape moves in it", do=TAPE_HELP)
    return found


def _of_one_tape(request: WatchRequest, watched: Watched) -> list[SetUpWarning]:
    """Warn where one hand's tape was named and many strokes are not that hand's."""
    others = sum(stroke.hand is None for stroke in watched.strokes)
    total = len(watched.strokes)
    if len(request.tapes) != 1 or watched.shift_ms is None or others < OTHERS_OF_ONE_TAPE * total:
        return []
    (hand,) = request.tapes
    return [SetUpWarning("one tape", {"hand": hand, "n": float(others), "of": float(total)})]


def _watched(
    film: SeenFilm,
    sample: FilmSample,
    seen: Survey,
    tapes: dict[Hand, Tape],
    request: WatchRequest,
    heard: HeardTake,
) -> tuple[Watched, tuple[AskedStroke, ...]]:
    """Watch the film; tapes that were found and not named go to the hands that the exercise has."""
    asked = asked_of(heard, request)
    ups = frozenset(i for i, each in enumerate(asked) if each.up)
    hits_s = tuple(each.hit.time_s for each in asked)
    sizes = request.pad_cm, request.stick_cm
    known = FilmRequest(hits_s, ups, *sizes, request.heights, request.lifting)
    watched = watch(film, sample, seen, tapes, known)
    if request.tapes or _agreeing(watched.strokes, asked) >= OTHERS_AGREE:
        return watched, asked
    swapped = SeenFilm(film.times_s, replace(film.blobs, colour=1 - film.blobs.colour))
    return watch(swapped, sample, seen, {"R": tapes["L"], "L": tapes["R"]}, known), asked


def _agreeing(strokes: tuple[SeenStroke, ...], asked: tuple[AskedStroke, ...]) -> float:
    """Return the share of strokes seen by the hand that is written."""
    rows = [(s.hand, of.hit.hand) for s, of in zip(strokes, asked, strict=True) if s.hand and of.hit.hand]
    return sum(hand == written for hand, written in rows) / len(rows) if rows else 1.0


def asked_of(heard: HeardTake, request: WatchRequest) -> tuple[AskedStroke, ...]:
    """Return the hits in order of time, each with what was asked of it."""
    extra = [Hit(hit.time_s, hit.level_db, 0.0) for hit in heard.heard.extra if hit.reason != TOO_SOFT]
    hits = sorted([*heard.heard.hits, *extra], key=lambda hit: hit.time_s)
    plan = _plan(heard.exercise, heard.tempo, request)
    return tuple(_asked(hit, plan, request) for hit in hits)


def _plan(exercise: Exercise | None, tempo: Tempo | None, request: WatchRequest) -> StrokePlan | None:
    """Plan the strokes, where it is known from which heights they were to be played."""
    if exercise is None or not (request.stroke or exercise.has_accents):
        return None
    return plan_strokes(exercise, stroke=request.stroke, heights=request.heights, tempo=tempo)


def _asked(hit: Hit, plan: StrokePlan | None, request: WatchRequest) -> AskedStroke:
    if plan is None or hit.position is None or hit.grace:
        return AskedStroke(hit)
    planned = plan.at(hit.position)
    if planned is None or planned.bounce:
        return AskedStroke(hit)
    asked, _ = class_of(planned.before_cm, 0.0, request.heights)
    return AskedStroke(hit, planned.before_cm, asked, up=planned.motion == "up")


def joined(
    heard: HeardTake,
    film: FilmFacts,
    watched: Watched,
    asked: tuple[AskedStroke, ...],
    request: WatchRequest,
) -> SeenTake:
    """Measure what was seen, and put what is found in it among what was heard."""
    strokes, sd = watched.strokes, watched.scale_sd
    take = SeenTake(
        heard,
        film,
        watched,
        asked,
        hands_seen(strokes, asked, sd),
        balance_of(strokes, asked, sd),
        heights_by_position(strokes, asked),
        request.stroke,
    )
    found = seen_findings(take, request.heights)
    if any(each.kind == "other_sticking" for each in found):
        heard = judged(replace(heard, heard=_by_seen_hands(heard.heard, take)))
    findings = sorted([*heard.findings, *found], key=lambda each: ORDER[each.kind])
    return replace(take, heard=replace(heard, findings=tuple(findings)))


def _by_seen_hands(heard: Heard, take: SeenTake) -> Heard:
    """Give each hit the hand that was seen, so that each hand's figures are its own."""
    seen = {
        of.hit.time_s: stroke.hand
        for stroke, of in zip(take.watched.strokes, take.asked, strict=True)
        if stroke.hand is not None and (stroke.hand_probability or 0.0) >= SURE_HAND
    }
    hits = tuple(replace(hit, hand=seen.get(hit.time_s, hit.hand)) for hit in heard.hits)
    return replace(heard, hits=hits)


def seen_json_text(take: SeenTake) -> str:
    """Write what was heard and seen as JSON text, ending in a line break."""
    return json_of(seen_as_json(take))


def seen_as_json(take: SeenTake) -> Json:
    """Turn what was heard and seen into plain dicts, lists and numbers (docs/json.md has them all)."""
    watched = take.watched
    own = {
        "schema": SEEN_ID,
        "version": evenhand.__version__,
        "name": take.heard.name,
        "film": take.film,
        "tapes": watched.tapes,
        "asked_stroke": take.stroke,
        "strokes": [_stroke_json(*row) for row in zip(watched.strokes, take.asked, strict=True)],
        "hands": take.hands,
        "balance": {"height_cm": take.balance_cm},
        "positions": [{"position": at, "height_cm": figure} for at, figure in take.positions.items()],
        "setup": {"warnings": [_warning_json(warning) for warning in watched.warnings]},
        "audio_video_shift_ms": watched.shift_ms,
        "scale_px_per_cm": {hand: stick.px_per_cm for hand, stick in watched.sticks.items()},
        "scale_sd": watched.scale_sd,
    }
    ways = {hand: _way_json(stick, watched.fps) for hand, stick in watched.sticks.items()}
    return {**plain(own, TAKE_DIGITS), "ways": ways, "heard": as_json(take.heard)}


def _way_json(stick: SeenStick, fps: float) -> Json:
    """Give a stick's height over time, no closer than ``WAY_FPS``; None where it was not seen."""
    step = max(1, round(fps / WAY_FPS))
    return {
        "bands": stick.bands,
        "seen": round(stick.seen, 3),
        "times_s": [round(time_s, 3) for time_s in stick.times_s[::step].tolist()],
        "height_cm": [round(cm, 2) if isfinite(cm) else None for cm in stick.height_cm[::step].tolist()],
    }


def _stroke_json(stroke: SeenStroke, asked: AskedStroke) -> Json:
    hit = asked.hit
    return {
        "time_s": stroke.time_s,
        "hand": stroke.hand,
        "hand_probability": stroke.hand_probability,
        "written_hand": hit.hand,
        "repetition": hit.repetition,
        "position": hit.position,
        "grace": hit.grace,
        "asked_cm": asked.asked_cm,
        "preparation_cm": stroke.preparation_cm,
        "preparation_sd_cm": stroke.preparation_sd_cm,
        "rebound_cm": stroke.rebound_cm,
        "class": stroke.stroke,
        "class_probability": stroke.class_probability,
        "angle_deg": stroke.angle_deg,
        "rise": stroke.rise,
        "lift_index": stroke.lift_index,
        "lift_parts": stroke.parts,
    }


def _warning_json(warning: SetUpWarning) -> Json:
    return {
        "kind": warning.kind,
        "text": warning_words(warning),
        "facts": dict(warning.facts),
        "box_px": warning.box_px,
    }
