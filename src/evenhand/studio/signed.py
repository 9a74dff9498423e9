"""What the teacher signed off: of which rudiment which tempo, and on which day.

Conventions: it is kept as text, a line each, such as ``20 slow 2026-11-29``: the rudiment's number among the
forty, the rung of its ladder, the day. A line that cannot be read says nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from datetime import date
from typing import get_args

from evenhand.errors import WrongOptions
from evenhand.music.library.forty import Rung
from evenhand.music.rudiments import rudiments

RUNGS: tuple[Rung, ...] = get_args(Rung)
SignedRungs = Mapping[tuple[int, Rung], date]


def signed_rungs(text: str) -> dict[tuple[int, Rung], date]:
    r"""Read what was signed off.

    >>> signed_rungs("20 slow 2026-11-29\nx")
    {(20, 'slow'): datetime.date(2026, 11, 29)}
    """
    found: dict[tuple[int, Rung], date] = {}
    for line in text.splitlines():
        with suppress(ValueError):
            number, rung, on = line.split()
            found[int(number), RUNGS[RUNGS.index(rung)]] = date.fromisoformat(on)
    return found


def with_signed(text: str, number: str, rung: str, on: date | None) -> str:
    r"""Sign a rung off on a day, or (None) take it back; what was signed before keeps its day.

    >>> with_signed("20 slow 2026-11-29", "6", "target", date(2026, 12, 4))
    '6 target 2026-12-04\n20 slow 2026-11-29'
    >>> with_signed("20 slow 2026-11-29", "20", "slow", None)
    ''

    Raises
    ------
    WrongOptions
        Where the forty have no such number, or a ladder no such rung.
    """
    known = {str(each.number): each.number for each in rudiments()}
    if number not in known:
        raise WrongOptions(got=f"the rudiment {number[:20]!r}", must_be=f"a number from 1 to {len(known)}")
    place = next((each for each in RUNGS if each == rung), None)
    if place is None:
        raise WrongOptions(got=f"the tempo {rung[:20]!r}", must_be=f"one of {', '.join(RUNGS)}")
    signed = signed_rungs(text)
    if on is None:
        signed.pop((known[number], place), None)
    else:
        signed.setdefault((known[number], place), on)
    ordered = sorted(signed.items(), key=lambda row: (row[0][0], RUNGS.index(row[0][1])))
    return "\n".join(f"{number} {rung} {on.isoformat()}" for (number, rung), on in ordered)
