"""The studio's book of exercises, and its last changes, each of which can be undone.

Conventions: with a change are kept the exercises that it touched, as they were, and the ids of those that
came with it. Changes are undone one by one, the newest first, so what is undone fits what is there. The
newest ``MOST_CHANGES`` are kept.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, replace

from sqlalchemy import Connection, delete, insert

from evenhand.errors import NotFound
from evenhand.studio.store.access import new_id
from evenhand.studio.store.data import StudioData
from evenhand.studio.store.tables import book, book_changes, select_of, value_in, values_in, values_of
from evenhand.studio.values import BookChange, BookChangeKind, BookEntry

MOST_CHANGES = 20
THIS_EXERCISE, THIS_CHANGE = "this exercise of the book", "this change of the book as the last one"

Entries = list[BookEntry]
_IN_ORDER = select_of(BookEntry).order_by(book.c.position, book.c.id)
_NEWEST_FIRST = select_of(BookChange).order_by(book_changes.c.place.desc())


class BookShelf:
    """The studio's book of exercises."""

    def __init__(self, data: StudioData) -> None:
        self._data = data

    def all(self) -> Entries:
        """List the book's exercises in their order."""
        return self._data.values(BookEntry, _IN_ORDER)

    def get(self, entry_id: str) -> BookEntry:
        """Find an exercise that must be there."""
        found = self._data.value(BookEntry, select_of(BookEntry).where(book.c.id == entry_id))
        if found is None:
            raise NotFound(what=THIS_EXERCISE)
        return found

    def add(self, text: str, title: str = "", section: str = "", mark: str = "") -> BookEntry:
        """Add an exercise at the end of the book."""
        (added,) = self.add_all([BookEntry("", text, title, section, mark=mark)])
        return added

    def begin(self, entries: Sequence[BookEntry]) -> None:
        """Fill an empty book: where it begins there is nothing to go back to."""
        numbered = [replace(entry, id=new_id(), position=place) for place, entry in enumerate(entries)]
        with self._data.database.alone() as connection:
            _put(connection, (), numbered)

    def add_all(self, entries: Sequence[BookEntry]) -> Entries:
        """Add exercises at the end of the book, in their order; each gets an id of its own."""
        added: Entries = []

        def act(there: Entries) -> Entries:
            first = max((entry.position for entry in there), default=-1) + 1
            added[:] = [
                replace(entry, id=new_id(), position=first + number) for number, entry in enumerate(entries)
            ]
            return [*there, *added]

        self.change("added", act, about=_called(entries[0]) if entries else "")
        return added

    def edit(self, entry_id: str, *, text: str, title: str, section: str) -> None:
        """Write an exercise anew in its place."""
        self._one(entry_id, "changed", lambda entry: replace(entry, text=text, title=title, section=section))

    def mark(self, entry_id: str, mark: str) -> None:
        """Say what is wanted of an exercise where weeks are planned."""
        self._one(entry_id, "marked", lambda entry: replace(entry, mark=mark))

    def remove(self, entry_id: str) -> None:
        """Take an exercise out of the book."""
        self._one(entry_id, "removed", lambda _entry: None)

    def _one(
        self, entry_id: str, what: BookChangeKind, make: Callable[[BookEntry], BookEntry | None]
    ) -> None:
        """Change one exercise, or take it out."""
        entry = self.get(entry_id)

        def act(there: Entries) -> Entries:
            made = [make(each) if each.id == entry_id else each for each in there]
            return [each for each in made if each is not None]

        self.change(what, act, about=_called(entry))

    def change(self, what: BookChangeKind, act: Callable[[Entries], Entries], *, about: str = "") -> None:
        """Change the book in one step that can be undone; what changes nothing is no change."""
        with self._data.database.alone() as connection:
            before = {entry.id: entry for entry in values_in(connection, BookEntry, _IN_ORDER)}
            after = {entry.id: entry for entry in act(list(before.values()))}
            touched = [entry for key, entry in before.items() if after.get(key) != entry]
            new = [key for key in after if key not in before]
            if touched or new:
                _put(connection, touched, [entry for key, entry in after.items() if before.get(key) != entry])
                self._note(connection, what, about, touched, new)

    def _note(
        self, connection: Connection, what: BookChangeKind, about: str, touched: Entries, new: Sequence[str]
    ) -> None:
        """Keep what is needed to undo a change, and forget the oldest."""
        newest = value_in(connection, BookChange, _NEWEST_FIRST)
        was = json.dumps({"rows": [asdict(entry) for entry in touched], "new": list(new)}, ensure_ascii=False)
        place = 1 if newest is None else newest.place + 1
        row = BookChange(new_id(), self._data.now(), what, about, len(touched) + len(new), was, place)
        connection.execute(insert(book_changes).values(**values_of(row)))
        connection.execute(delete(book_changes).where(book_changes.c.place <= place - MOST_CHANGES))

    def last_change(self) -> BookChange | None:
        """Return the change that would be undone; None where there is none."""
        return self._data.value(BookChange, _NEWEST_FIRST)

    def undo(self, change_id: str) -> BookChange:
        """Undo the last change; ``change_id`` is its id, so that nothing is undone twice or unseen.

        Raises
        ------
        NotFound
            It is not the last change any more.
        """
        with self._data.database.alone() as connection:
            newest = value_in(connection, BookChange, _NEWEST_FIRST)
            if newest is None or newest.id != change_id:
                raise NotFound(what=THIS_CHANGE)
            rows, new = _was(newest.before)
            connection.execute(delete(book).where(book.c.id.in_(new)))
            _put(connection, rows, rows)
            connection.execute(delete(book_changes).where(book_changes.c.id == newest.id))
        return newest


def _was(text: str) -> tuple[Entries, list[str]]:
    """Read what is needed to undo a change; what came with an import need not be ours."""
    try:
        found = json.loads(text)
        rows, new = [BookEntry(**row) for row in found["rows"]], list(found["new"])
        said = [value for row in rows for name, value in asdict(row).items() if name != "position"]
        if all(isinstance(each, str) for each in (*said, *new)) and all(
            type(row.position) is int for row in rows
        ):
            return rows, new
    except (ValueError, KeyError, TypeError):
        pass
    raise NotFound(what=THIS_CHANGE)


def _put(connection: Connection, gone: Sequence[BookEntry], there: Sequence[BookEntry]) -> None:
    """Take some exercises out, and put some in, over those of the same ids."""
    ids = {entry.id for entry in (*gone, *there)}
    if ids:
        connection.execute(delete(book).where(book.c.id.in_(ids)))
    if there:
        connection.execute(insert(book), [values_of(entry) for entry in there])


def _called(entry: BookEntry) -> str:
    return entry.title or entry.text
