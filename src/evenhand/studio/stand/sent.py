"""What a student's device sends: a recording with what it is of, and how a live take begins.

Conventions: everything here came from outside and is checked; moments are aware and in UTC;
``first_note_s`` and ``clicks_s`` are seconds of the recording, the device's delay not yet taken off.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from typing import Any, Literal

from evenhand.acts.takes.request import Click, TakeRequest
from evenhand.errors import WrongOptions
from evenhand.music.bars import clicks_along
from evenhand.music.click_pattern import ClickPattern
from evenhand.music.library.strokes import is_drops
from evenhand.music.strokes.heights import stroke_class
from evenhand.studio.typed import full_tempo
from evenhand.studio.values import GRIP, Device, NewTake, Student
from evenhand.studio.work.films import film_facts

ClickPlace = Literal["room", "headphones", "count-in", "off"]
CLICK_PLACES: tuple[ClickPlace, ...] = ("room", "headphones", "count-in", "off")
NO_CLICK: Click = "none"  # where none was laid; elsewhere the ear looks, since headphones may leak
UPLOAD_KEY = re.compile(r"[A-Za-z0-9_-]{16,64}")
FACTS = (
    "week",
    "day",
    "item",
    "click",
    "pattern",
    "first_note_s",
    "seconds",
    "spread_ms",
    "rate",
    "film_starts_s",
)
PROCESSING = ("echo", "noise", "gain")  # what a browser did to the sound although it was switched off
MOST_LETTERS = 200
MOST_OF_GRIP = 40  # letters
MOST_LATENCY_MS = 2000.0
OLDEST = timedelta(days=366)
LONGEST_LIVE_S = 1800.0
MOST_CLICKS = 20_000
SHORTEST_BEAT_S = 0.01
LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 8000, 192_000


def new_take(
    student: Student, form: Mapping[str, str], *, now: datetime, file_name: str, device: Device | None
) -> NewTake:
    """Read what came with a recording.

    Raises
    ------
    WrongOptions, BadExercise, BadTempo
        Naming what cannot be taken.
    """
    key = form.get("upload_key", "")
    if not UPLOAD_KEY.fullmatch(key):
        raise WrongOptions(got=f"the upload key {key[:70]!r}", must_be="16 to 64 letters, digits, - and _")
    place = form.get("click", "")
    tempo = full_tempo(form.get("tempo", ""), form.get("exercise", ""))
    asked = TakeRequest.read(form.get("exercise"), tempo, NO_CLICK if place == "off" else "auto")
    facts = {name: form[name][:MOST_LETTERS] for name in FACTS if form.get(name)} | film_facts(form)
    if processed := [each for each in PROCESSING if each in form.get("processed", "").split(",")]:
        facts["processed"] = ",".join(processed)
    if grip := grip_of(form):
        facts[GRIP] = grip
    recorded = form.get("source") == "microphone"
    return NewTake(
        student_id=student.id,
        upload_key=key,
        exercise=asked.exercise_text or "",
        tempo="" if asked.tempo is None else str(asked.tempo),
        recorded_at=_recorded_at(form.get("recorded_at", ""), now),
        source="microphone" if recorded else "upload",
        name=file_name[:MOST_LETTERS],
        stroke=stroke_class(form.get("stroke")),
        click=asked.click,
        latency_ms=device.latency_ms if device and recorded else None,
        device_id=device.id if device else None,
        facts=facts,
    )


def grip_of(form: Mapping[str, str]) -> str:
    """Read a grip's name, on one line and without commas, which part it from its hand; "" for none.

    >>> grip_of({"grip": " Thumb,  first finger "})
    'Thumb first finger'
    """
    return " ".join(form.get(GRIP, "").replace(",", " ").split())[:MOST_OF_GRIP].rstrip()


def _recorded_at(text: str, now: datetime) -> datetime:
    """Read when it was recorded; a clock that runs ahead, or none, gives the moment it came."""
    try:
        at = datetime.fromisoformat(text)
        if at.tzinfo is None:
            return now
        at = at.astimezone(UTC)
    except (ValueError, OverflowError):  # the second: at the very edge of the calendar
        return now
    return at if now - OLDEST < at <= now else now


def read_device(student: Student, form: Mapping[str, str], *, now: datetime) -> Device:
    """Read a device with its measured delay; "" for its id makes a new one.

    Raises
    ------
    WrongOptions
        Where the delay is no number of ms that a device can have.
    """
    text = form.get("latency_ms", "")
    latency_ms = _number(text) if text else None
    if text and (latency_ms is None or not 0 <= latency_ms <= MOST_LATENCY_MS):
        raise WrongOptions(got=f"the delay {text[:20]!r}", must_be=f"0 to {MOST_LATENCY_MS:g} ms")
    return Device(
        id=form.get("device", "")[:64],
        student_id=student.id,
        label=" ".join(form.get("label", "").split())[:80] or "this device",
        latency_ms=latency_ms,
        measured_at=now if latency_ms is not None else None,
    )


@dataclass(frozen=True, slots=True)
class LiveRequest:
    """How a live take begins: what is played, and when the click is due in the stream.

    ``clicks_s`` are only those that sound in the room; ``first_note_s`` is None without a click.
    """

    rate_hz: int
    asked: TakeRequest
    first_note_s: float | None = None
    clicks_s: tuple[float, ...] = ()


def read_live(message: object) -> LiveRequest:
    """Read a live take's first message.

    Raises
    ------
    WrongOptions, BadExercise, BadTempo
        Naming what cannot be taken.
    """
    if not isinstance(message, dict):
        raise WrongOptions(got="no object", must_be='{"rate", "exercise", "tempo"}')
    rate = message.get("rate")
    if not isinstance(rate, int) or not LOWEST_RATE_HZ <= rate <= HIGHEST_RATE_HZ:
        raise WrongOptions(got=f"the rate {rate!r}", must_be=f"{LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ} Hz")
    asked = TakeRequest.read(_text(message, "exercise"), _text(message, "tempo"))
    clicks = _clicks(message, asked)
    if asked.exercise is not None and is_drops(asked.exercise):
        return LiveRequest(rate, TakeRequest(), None, clicks)  # bounces are no notes
    return LiveRequest(rate, asked, _first_note(message), clicks)


def _text(message: Mapping[str, Any], key: str) -> str:
    value = message.get(key, "")
    if not isinstance(value, str) or len(value) > 20_000:
        raise WrongOptions(got=f"{key} of another kind", must_be="a short text")
    return value


def _first_note(message: Mapping[str, Any]) -> float | None:
    value = message.get("first_note_s")
    if value is None:
        return None
    first_s = _number(value)
    if first_s is None or not 0 <= first_s <= LONGEST_LIVE_S:
        raise WrongOptions(got="first_note_s out of range", must_be=f"0 to {LONGEST_LIVE_S:g} s")
    return first_s


def _clicks(message: Mapping[str, Any], asked: TakeRequest) -> tuple[float, ...]:
    """Read the clicks' times; given by their first, their distance, their number, and which sound."""
    clicks = message.get("clicks")
    if clicks is None:
        return ()
    if not isinstance(clicks, dict):
        raise WrongOptions(got="clicks of another kind", must_be='{"first_s", "beat_s", "count"}')
    first_s, beat_s = (_number(clicks.get(key)) for key in ("first_s", "beat_s"))
    count, counted = (_number(clicks.get(key, 0)) for key in ("count", "counted"))
    if first_s is None or beat_s is None or count is None or counted is None:
        raise WrongOptions(got="clicks that are not numbers", must_be='{"first_s", "beat_s", "count"}')
    fits = 0 <= first_s <= LONGEST_LIVE_S and SHORTEST_BEAT_S <= beat_s <= 60 and 0 <= count <= MOST_CLICKS
    if not fits or not 0 <= counted <= MOST_CLICKS:
        raise WrongOptions(got="clicks out of range", must_be='{"first_s", "beat_s", "count"}')
    pattern = ClickPattern.parse(_text(clicks, "pattern"))
    beats = _sounding(pattern, asked, min(counted, count), count)
    return tuple(first_s + k * beat_s for k in beats if first_s + k * beat_s <= LONGEST_LIVE_S)


def _sounding(pattern: ClickPattern, asked: TakeRequest, counted: float, count: float) -> Iterator[float]:
    """Give the beats at which a click sounds: all of the count-in, then those of the pattern."""
    if asked.exercise is None or asked.tempo is None or is_drops(asked.exercise):
        yield from range(math.ceil(count))
        return
    beat = asked.tempo.beat
    until = Fraction(count).limit_denominator(MOST_CLICKS) * beat
    along = clicks_along(asked.exercise, asked.tempo, pattern, until, counted=counted > 0)
    yield from (float(place.at / beat) for place in along)


def _number(value: object) -> float | None:
    """Read a finite number, from a text too."""
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        return None
    try:
        number = float(value)
    except (ValueError, OverflowError):
        return None
    return number if math.isfinite(number) else None
