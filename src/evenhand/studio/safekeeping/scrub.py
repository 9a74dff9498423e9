"""Read every recording that a row names and hold its bytes against its hash, however many there are.

Conventions: broken off, it goes on where it was: notes beside the recordings say up to which key it read, in
the order of keys, since when, and what was bad. What was bad is read once more at the end, for it may have
been mended meanwhile. Notes that are older than ``GOOD_FOR`` count for nothing. Where recordings lie in a
store of objects several are read at once, since most of the time goes by on the way.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from evenhand.studio.safekeeping.form import Progress, quiet
from evenhand.studio.store.data import StudioData

GOOD_FOR = timedelta(days=7)
AT_ONCE, EACH = 8, 64  # read at once from a store; and between two notes


@dataclass(slots=True)
class Notes:
    """How far a scrub is: since when, up to which key, and what was bad (True: there, but damaged)."""

    since: datetime
    through: str = ""
    bad: dict[str, bool] = field(default_factory=dict)


def bad_keys(
    data: StudioData, keys: Iterable[str], progress: Progress = quiet, notes: Notes | None = None
) -> dict[str, bool]:
    """Read recordings; list those that are missing (False) or damaged (True).

    With ``notes`` what they say was read is not read again, and they are kept up to date on the disk.
    """
    named, keeps = sorted(set(keys)), notes is not None
    notes = notes or Notes(data.now())
    ahead = [key for key in named if key > notes.through]
    for start in range(0, len(ahead), EACH):
        some = ahead[start : start + EACH]
        notes.bad |= _bad_among(data, some)
        notes.through = some[-1]
        if keeps:
            keep_notes(data, notes)
        progress((len(named) - len(ahead) + start + len(some)) / len(named))
    again = _bad_among(data, sorted(notes.bad.keys() & set(named)))
    if keeps:
        _place(data).unlink(missing_ok=True)
    return again


def notes_of(data: StudioData) -> Notes:
    """Read the notes of a scrub that was broken off, or begin new ones."""
    with suppress(OSError, ValueError, TypeError, KeyError):
        found: dict[str, Any] = json.loads(_place(data).read_bytes())
        notes = Notes(datetime.fromisoformat(found["since"]), str(found["through"]), dict(found["bad"]))
        if timedelta() <= data.now() - notes.since <= GOOD_FOR:
            return notes
    return Notes(data.now())


def keep_notes(data: StudioData, notes: Notes) -> None:
    """Keep notes on this disk, whole or not at all."""
    said = {"since": notes.since.isoformat(), "through": notes.through, "bad": notes.bad}
    beside = _place(data).with_suffix(".new")
    beside.write_text(json.dumps(said), "utf-8")
    beside.replace(_place(data))


def _place(data: StudioData) -> Path:
    return data.recordings.folder / f".scrub-{data.database.studio_id or 'first'}.json"


def _bad_among(data: StudioData, keys: Sequence[str]) -> dict[str, bool]:
    """Read some recordings."""
    if data.recordings.is_here:
        sound: Iterable[bool] = map(data.recordings.is_sound, keys)
    else:
        with ThreadPoolExecutor(AT_ONCE) as readers:
            sound = list(readers.map(data.recordings.is_sound, keys))
    return {key: data.recordings.has(key) for key, is_sound in zip(keys, sound, strict=True) if not is_sound}
