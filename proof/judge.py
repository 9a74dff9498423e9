"""The judge: what the devices saw against what is there at the end. Pure: a ledger and what was found in.

Conventions: a line of the verdict is what was counted, how many, and how many there must be; None where any
number is well. ``written`` counts how often what was heard of a take was written, by a trigger of the soak's
own in the database, which the code under test knows nothing of.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import PurePath

from proof.ledger import Entry
from proof.sounds import is_of


@dataclass(frozen=True, slots=True)
class Row:
    """A take as its row says it."""

    id: str
    student_id: str
    upload_key: str
    status: str
    recording: str | None
    original: str | None = None
    tried: int = 1


@dataclass(slots=True)
class Found:
    """What is there at the end: rows, how often each was heard, the recordings by key, and labels."""

    rows: Sequence[Row]
    written: Mapping[str, int]
    contents: Mapping[str, bytes]
    labels: frozenset[str] | None = None  # the takes that have one; None: none are kept here
    aside: int = 0
    unfinished: int = 0
    jobs_left: int = 0
    crossed: int = 0  # rows of another studio than their student is of
    own_check: str = ""  # what the studio's own check says is wrong
    more: dict[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the verdict."""

    what: str
    count: int
    must_be: int | None = None

    @property
    def holds(self) -> bool:
        """Tell whether it is as it must be."""
        return self.must_be is None or self.count == self.must_be


def judged(entries: Iterable[Entry], found: Found) -> list[Line]:
    """Hold what is there against what was acknowledged."""
    told = _Told.of(entries)
    by_key = {(row.student_id, row.upload_key): row for row in found.rows}
    mine = [(entry, by_key.get((entry.student_id, entry.upload_key))) for entry in told.acknowledged]
    there = [(entry, row) for entry, row in mine if row is not None]
    n = len(told.acknowledged)
    written = [found.written.get(row.id, 0) for _, row in there]
    named = {key for row in found.rows for key in (row.recording, row.original) if key}
    labels = found.labels
    return [
        Line("takes sent", len(told.sent)),
        Line("acknowledged", n, len(told.sent)),
        Line("refused", told.refused, 0),
        Line("answered otherwise when sent again", told.otherwise, 0),
        Line("acknowledged, and no row (lost)", n - len(there), 0),
        Line("rows under another id than was acknowledged", sum(e.take_id != r.id for e, r in there), 0),
        Line("rows that no device sent (orphans)", sum(key not in told.sent for key in by_key), 0),
        Line("rows with one key twice (doubled)", len(found.rows) - len(by_key), 0),
        Line("heard", sum(row.status == "heard" for _, row in there), n),
        Line("heard exactly once, by the trigger's count", written.count(1), n),
        Line("heard more than once (doubled)", sum(times > 1 for times in written), 0),
        Line("heard, of takes that are not there", len(found.written.keys() - {r.id for r in found.rows}), 0),
        Line("recordings gone (lost)", sum(r.recording not in found.contents for _, r in there), 0),
        Line("recordings whose bytes are not their key's", sum(_damaged(found.contents)), 0),
        Line("recordings with another sound than was sent", sum(_is_other(e, r, found) for e, r in there), 0),
        Line("recordings that no row names (orphans)", len(found.contents.keys() - named), 0),
        Line("set aside", found.aside),
        Line("unfinished files", found.unfinished),
        Line(
            "labels of takes that broke off before their row",
            len((labels or set()) - {r.id for r in found.rows}),
        ),
        Line("rows without a label", 0 if labels is None else sum(r.id not in labels for r in found.rows), 0),
        Line("rows in another studio than their student", found.crossed, 0),
        Line("jobs left over", found.jobs_left, 0),
        Line("faults by the studio's own check", len(found.own_check.splitlines()), 0),
        Line("takes begun more than once: a kill broke them off", sum(r.tried > 1 for r in found.rows)),
        *(Line(what, count) for what, count in found.more.items()),
    ]


def as_text(lines: Sequence[Line]) -> str:
    """Write the verdict as a table."""
    rows = [
        f"  {line.what:52} {line.count:7d}"
        + (
            ""
            if line.must_be is None
            else f"   must be {line.must_be:7d}   {'holds' if line.holds else 'WRONG'}"
        )
        for line in lines
    ]
    return "\n".join(rows)


@dataclass(frozen=True, slots=True)
class _Told:
    """A ledger, summed up."""

    sent: frozenset[tuple[str, str]]
    acknowledged: Sequence[Entry]
    refused: int
    otherwise: int

    @classmethod
    def of(cls, entries: Iterable[Entry]) -> _Told:
        by_what: dict[str, list[Entry]] = {"sent": [], "acknowledged": [], "again": [], "refused": []}
        for entry in entries:
            by_what[entry.what].append(entry)
        ids = {entry.number: entry.take_id for entry in by_what["acknowledged"]}
        more = sum(times - 1 for times in Counter(entry.number for entry in by_what["acknowledged"]).values())
        otherwise = sum(entry.take_id != ids.get(entry.number) for entry in by_what["again"])
        return cls(
            frozenset((entry.student_id, entry.upload_key) for entry in by_what["sent"]),
            list({entry.number: entry for entry in by_what["acknowledged"]}.values()),
            len(by_what["refused"]),
            otherwise + more,
        )


def _damaged(contents: Mapping[str, bytes]) -> list[bool]:
    return [PurePath(key).stem != sha256(content).hexdigest() for key, content in contents.items()]


def _is_other(entry: Entry, row: Row, found: Found) -> bool:
    """Tell whether a take's recording is there and is neither the bytes that were sent nor their sound."""
    content = found.contents.get(row.recording or "")
    if content is None or sha256(content).hexdigest() == entry.sha256:
        return False
    was_flac = entry.number % 2 == 0
    return was_flac or not is_of(entry.number, content)
