"""What teacher and student say to each other, read from a form: a sentence, or a voice note.

Conventions: a voice note is a plain WAV that the page's own recorder made, since every browser plays one and
its length can be read without a decoder. Bytes and seconds; letters are characters of the text.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

from evenhand.errors import EvenhandError, WrongOptions
from evenhand.media.wav import read_wav
from evenhand.studio.values import Role, Said

MOST_LETTERS = {"teacher": 5000, "student": 1000}
MOST_VOICE_S, LEAST_VOICE_S = 60.0, 0.5
SPARE_S = 0.5  # a recorder stops a little late
MOST_VOICE_BYTES = 4 << 20  # a minute at 16 kHz, as floats where it is soft
_ID_LETTERS = 16


def new_said(
    form: Mapping[str, str],
    who: Role,
    student_id: str,
    *,
    now: datetime,
    take_id: str | None = None,
    week_id: str | None = None,
    voice: Path | None = None,
) -> Said:
    """Read what somebody says of a take or of a week.

    Raises
    ------
    WrongOptions
        It says nothing, or too much.
    """
    text = form.get("words", "").replace("\r\n", "\n").strip()
    unclear = who == "student" and form.get("unclear") == "yes"
    if not (text or unclear or voice):
        raise WrongOptions(got="nothing said", must_be="a sentence, or a voice note")
    if len(text) > MOST_LETTERS[who]:
        raise WrongOptions(
            got=f"{len(text)} letters", must_be=f"{MOST_LETTERS[who]} at most; they are still here"
        )
    return Said(
        id=_id_of(form.get("key", ""), student_id, take_id or week_id or "", who)
        or _id_of(str(now), student_id),
        student_id=student_id,
        who=who,
        said_at=now,
        take_id=take_id,
        week_id=week_id,
        text=text,
        unclear=unclear,
        seconds=None if voice is None else voice_seconds(voice),
    )


def voice_seconds(place: Path) -> float:
    """Return how long a voice note is.

    Raises
    ------
    WrongOptions
        It is no voice note, or too long.
    """
    if place.stat().st_size > MOST_VOICE_BYTES:
        raise WrongOptions(
            got="a larger file", must_be=f"a voice note of {MOST_VOICE_BYTES >> 20} MB at most"
        )
    try:
        found = read_wav(place)
    except EvenhandError:
        found = None
    seconds = 0.0 if found is None or not found.rate_hz else found.duration_s
    if not LEAST_VOICE_S <= seconds <= MOST_VOICE_S + SPARE_S:
        must_be = f"a recording by this page, of up to {MOST_VOICE_S:.0f} s"
        raise WrongOptions(
            got="no voice note" if found is None else f"one of {seconds:.1f} s", must_be=must_be
        )
    return seconds


def _id_of(key: str, *parts: str) -> str:
    """Make an id of what a page chose, so that what is sent twice is one; "" where it chose nothing."""
    text = "\0".join([*parts, key])
    return hashlib.sha256(text.encode()).hexdigest()[:_ID_LETTERS] if key else ""
