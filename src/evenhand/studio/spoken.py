"""What teacher and student say to each other, read from a form: a sentence, or a voice note.

Conventions: a voice note is a plain WAV that the page's own recorder made, since every browser plays one and
its length can be read without a decoder. Bytes and seconds; letters are characters of the text.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Literal

from evenhand.errors import EvenhandError
from evenhand.media.wav import read_wav
from evenhand.studio.values import Role, Said

MOST_LETTERS = {"teacher": 5000, "student": 1000}
MOST_VOICE_S, LEAST_VOICE_S = 60.0, 0.5
SPARE_S = 0.5  # a recorder stops a little late
MOST_VOICE_BYTES = 4 << 20  # a minute at 16 kHz, as floats where it is soft
_ID_LETTERS = 16


class NotSaid(ValueError):
    """Why something is not kept: what was got, and the most that may be, in letters or seconds."""

    def __init__(
        self, kind: Literal["nothing", "long", "voice", "seconds"], got: float = 0, most: float = 0
    ) -> None:
        super().__init__(kind)
        self.kind, self.got, self.most = kind, got, most


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
    NotSaid
        It says nothing, or too much.
    """
    text = form.get("words", "").replace("\r\n", "\n").strip()
    unclear = who == "student" and form.get("unclear") == "yes"
    if not (text or unclear or voice):
        raise NotSaid("nothing")
    if len(text) > MOST_LETTERS[who]:
        raise NotSaid("long", len(text), MOST_LETTERS[who])
    size = voice.stat().st_size if voice else 0
    parts = (student_id, take_id or week_id or "", who, text, f"{unclear} {size}")
    return Said(
        id=_id_of(form.get("key") or str(now), *parts),
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
    NotSaid
        It is no voice note, or too short or too long.
    """
    if place.stat().st_size > MOST_VOICE_BYTES:
        raise NotSaid("voice")
    try:
        found = read_wav(place)
    except EvenhandError:
        found = None
    if found is None or not found.rate_hz:
        raise NotSaid("voice")
    if not LEAST_VOICE_S <= found.duration_s <= MOST_VOICE_S + SPARE_S:
        raise NotSaid("seconds", found.duration_s, MOST_VOICE_S)
    return found.duration_s


def _id_of(*parts: str) -> str:
    """Make an id of what a page chose and what is said, so that what is sent twice is one."""
    return hashlib.sha256("\0".join(parts).encode("utf-8", "replace")).hexdigest()[:_ID_LETTERS]
