"""All takes heard again by the ear of now: asked for, held against what is shown, taken over, and back.

Conventions: what is new is kept beside what is shown (``store/rows/versions.py``) and shows nowhere until
it is taken over, take by take or all at once. A take with the teacher's corrections is never among all:
by itself only, for the corrections stay with the version they were made in. Counts are of hits that stand on
notes; moves are those of more than 2 ms (``measuring/reheard.py``).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import date, datetime
from typing import Literal

from evenhand.acts.takes.document import ear_in, heard_take_of
from evenhand.errors import BadDocument, NotFound
from evenhand.measuring.reheard import COUNTED, Differences, Reheard
from evenhand.studio.safekeeping.form import Progress, quiet
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import HeardVersion, StudioTake, TakeOutline
from evenhand.take import EAR

AT_ONCE = 50  # takes whose documents are held together
Outcome = Literal["waiting", "same", "changed", "failed", "unreadable"]


@dataclass(frozen=True, slots=True)
class Which:
    """Which takes are meant: a student's, or those recorded since a day; all without."""

    student_id: str | None = None
    since: date | None = None

    def has(self, take: StudioTake | TakeOutline) -> bool:
        """Tell whether a take is among them."""
        mine = self.student_id in {None, take.student_id}
        return mine and (self.since is None or take.recorded_at.astimezone().date() >= self.since)


ALL = Which()


def ask_again(studio: Studio, which: Which = ALL, progress: Progress = quiet) -> int:
    """Ask for every heard take that an older ear heard; tell of how many that is new.

    Which ear heard a take stands in what was heard, so that is read, some takes at a time.
    """
    every = [take.id for take in studio.takes.all() if take.status == "heard" and which.has(take)]
    asked = 0
    for some in _by_some(every):
        found = studio.takes.all(ids=some, with_heard=True)
        older = [take.id for take in found if take.heard is not None and ear_in(take.heard) < EAR]
        asked += studio.hearings.ask(older, EAR)
        progress(len(some) / len(every))
    return asked


@dataclass(frozen=True, slots=True)
class TakeAgain:
    """A take, and what the two ears heard otherwise in it; nothing where there are no two versions.

    ``shown``: the new version is the one that is shown. ``corrected``: the older one has corrections.
    """

    take_id: str
    student_id: str
    recorded_at: datetime
    exercise: str
    tempo: str
    ear_before: int
    ear_now: int
    outcome: Outcome
    shown: bool
    corrected: bool
    reason: str = ""
    found: Differences = field(default_factory=Differences)

    @property
    def weight(self) -> int:
        """How much there is to look at, for the order of a list."""
        return self.found.weight + (self.outcome in {"failed", "unreadable"}) * 1000


_OF_TAKE = tuple(each.name for each in fields(TakeAgain) if each.name != "found")
_FINDINGS = ("findings_new", "findings_gone")
COLUMNS = (*_OF_TAKE, *COUNTED[1:], *_FINDINGS)


def compared(
    studio: Studio,
    which: Which = ALL,
    progress: Progress = quiet,
    *,
    take_ids: Sequence[str] | None = None,
) -> Iterator[TakeAgain]:
    """Hold the two versions of each take, or of those named, against each other, the newest takes first."""
    every = studio.hearings.take_ids() if take_ids is None else take_ids
    for take, other, shown in _pairs(studio, every, which, progress, with_heard=True):
        yield _compared(take, other, shown=shown)


def _compared(take: StudioTake, other: HeardVersion, *, shown: bool) -> TakeAgain:
    mine = ear_in(take.heard or "")
    before, now = (other.ear, mine) if shown else (mine, other.ear)
    outcome: Outcome = "failed" if other.status == "failed" else "waiting"
    corrected, reason = (other if shown else take).corrected, other.reason or ""
    about = (take.id, take.student_id, take.recorded_at, take.exercise, take.tempo)
    made = TakeAgain(*about, before, now, outcome, shown, corrected, reason)
    if other.status != "heard":
        return made
    old, new = (other.heard, take.heard) if shown else (take.heard, other.heard)
    try:
        found = Reheard(heard_take_of(old or ""), heard_take_of(new or "")).differences
    except BadDocument as error:
        return replace(made, outcome="unreadable", reason=str(error))
    return replace(made, outcome="changed" if found.weight else "same", found=found)


def _pairs(
    studio: Studio,
    every: Sequence[str],
    which: Which,
    progress: Progress = quiet,
    *,
    with_heard: bool = False,
) -> Iterator[tuple[StudioTake, HeardVersion, bool]]:
    """Give each take with the version to hold it against, and whether the take itself has the newer one."""
    for start, some in enumerate(_by_some(every)):
        versions: dict[str, list[HeardVersion]] = {}
        for each in studio.hearings.of_takes(some, with_heard=with_heard):
            versions.setdefault(each.take_id, []).append(each)
        for take in studio.takes.all(ids=some, with_heard=with_heard):
            chosen = _chosen(versions.get(take.id, ()))
            if chosen is not None and which.has(take):
                yield take, *chosen
        progress(min(1.0, (start + 1) * AT_ONCE / len(every)))


def _chosen(versions: Sequence[HeardVersion]) -> tuple[HeardVersion, bool] | None:
    """Choose the version by the ear of now; where that is shown, the one that was shown before it."""
    new = next((each for each in versions if each.ear == EAR), None)
    if new is not None:
        return new, False
    were = [(each.replaced_at, each) for each in versions if each.replaced_at is not None]
    return (max(were, key=lambda of: of[0])[1], True) if were else None


@dataclass(slots=True)
class SumAgain:
    """All takes in sum: how many came out how, how many of them are shown, and what is otherwise in them."""

    outcomes: Counter[Outcome] = field(default_factory=Counter)
    shown: int = 0
    corrected: int = 0
    found: Differences = field(default_factory=Differences)

    def add(self, take: TakeAgain) -> None:
        """Add a take."""
        self.outcomes[take.outcome] += 1
        self.shown += take.shown
        self.corrected += take.corrected
        self.found.add(take.found)


def take_over(
    studio: Studio, take_ids: Collection[str] | None = None, progress: Progress = quiet
) -> tuple[int, int]:
    """Let the version by the ear of now be shown: of these takes, or of all but those with corrections.

    Gives how many were taken over, and how many of all were left for their corrections.
    """
    done = left = 0
    found = _asked_for(studio, take_ids)
    for number, (take, other, shown) in enumerate(found, start=1):
        progress(number / len(found))
        if shown or other.status != "heard":
            continue
        if take_ids is None and take.corrected:
            left += 1
            continue
        studio.hearings.exchange(take.id, other.id, ear_in)
        done += 1
    return done, left


def go_back(studio: Studio, take_ids: Collection[str] | None = None, progress: Progress = quiet) -> int:
    """Let the version be shown again that was shown before; tell of how many takes."""
    done, found = 0, _asked_for(studio, take_ids)
    for number, (take, other, shown) in enumerate(found, start=1):
        progress(number / len(found))
        if shown:
            studio.hearings.exchange(take.id, other.id, ear_in)
            done += 1
    return done


def _asked_for(
    studio: Studio, take_ids: Collection[str] | None
) -> list[tuple[StudioTake, HeardVersion, bool]]:
    """List the takes that were named, or all; one that is named and has no other version is refused."""
    every = studio.hearings.take_ids() if take_ids is None else sorted(take_ids)
    found = list(_pairs(studio, every, ALL))
    missing = set(take_ids or ()) - {each[0].id for each in found}
    if missing:
        raise NotFound(what=f"another version of the take {min(missing)}")
    return found


def row_of(take: TakeAgain) -> dict[str, object]:
    """Give a take as a row of plain values, by the names of ``COLUMNS``."""
    kinds = {name: " ".join(getattr(take.found, name)) for name in _FINDINGS}
    counted = {name: getattr(take.found, name) for name in COUNTED[1:]}
    own = {name: getattr(take, name) for name in _OF_TAKE}
    return {**own, "recorded_at": take.recorded_at.isoformat(), **counted, **kinds}


def _by_some(take_ids: Sequence[str]) -> Iterable[Sequence[str]]:
    return (take_ids[start : start + AT_ONCE] for start in range(0, len(take_ids), AT_ONCE))
