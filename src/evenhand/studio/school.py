"""A school: the studios of one database, each opened as it is needed, and who teaches in which.

Conventions: a teacher has a studio of their own, and comes in by a name and a password; the password is the
studio's. An administrator has a studio, too, which stays empty: its sessions, its second factor and its log
are the administrator's. One teacher alone needs no name and has none: that is no school, and every SQLite.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import closing
from dataclasses import asdict, dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from threading import Lock
from typing import Self

from argon2 import PasswordHasher
from sqlalchemy import ColumnElement, Select, delete, insert, select, update
from sqlalchemy.exc import IntegrityError

from evenhand.errors import NotFound, StudioMissing, WrongOptions
from evenhand.studio.store.access import new_id, sha256_of
from evenhand.studio.store.data import Clock, Quota, utc_now
from evenhand.studio.store.database import Database, upgrade
from evenhand.studio.store.layout import FIRST, FOLDER_ALONE, Backing
from evenhand.studio.store.queue import STALE
from evenhand.studio.store.rows.jobs import next_studio, studios_lost
from evenhand.studio.store.school import build_walls, studio_ids, studio_of_secret, substitutes, teachers
from evenhand.studio.store.studio import Studio

LONGEST_SUBSTITUTE = timedelta(days=41)
_LOGIN = re.compile(r"[a-z0-9][a-z0-9._-]{1,39}")


@dataclass(frozen=True, slots=True)
class Teacher:
    """Whose a studio is; ``id`` is the studio's. Without ``login``: one teacher alone."""

    id: str
    login: str | None
    name: str
    administrator: bool = False


@dataclass(frozen=True, slots=True)
class Substitute:
    """Who teaches in whose place, from and to which day; both days are within it."""

    id: str
    for_id: str
    by_id: str
    first: date
    last: date

    def is_on(self, day: date) -> bool:
        """Tell whether it holds on a day."""
        return self.first <= day <= self.last


class School:
    """The studios of one database. Close it at the end."""

    def __init__(
        self,
        data: Path,
        backing: Backing = FOLDER_ALONE,
        *,
        now: Clock = utc_now,
        hasher: PasswordHasher | None = None,
        quota: Quota | None = None,
    ) -> None:
        self._data, self._backing, self._now = data, backing, now
        self._hasher, self._quota = hasher or PasswordHasher(), quota or Quota()
        self._opened: dict[str, Studio] = {}
        self._opening = Lock()
        self._database: Database | None = None if backing.url is None else Database(backing.url)

    @classmethod
    def open(cls, data: Path, backing: Backing = FOLDER_ALONE, **how: object) -> Self:
        """Open the school, or the one studio that there is, in its newest form.

        Raises
        ------
        StudioMissing
            There is none.
        """
        school = cls(data, backing, **how)  # type: ignore[arg-type]  # as __init__ has them
        try:
            school.bring_up_to_date()
            _ = school.front
        except BaseException:
            school.close()
            raise
        return school

    def bring_up_to_date(self, *, finish: bool | None = None) -> None:
        """Bring the database to the newest form; SQLite's is, as its studio is opened.

        ``finish`` builds the walls between studios, or (False) leaves them, so that an older one goes on.
        """
        if self._database is None:
            return
        with self._database.changing() as connection:
            upgrade(connection, walls=finish is not False)
            if finish:
                build_walls(connection)

    def close(self) -> None:
        """Close every studio that was opened."""
        for studio in self._opened.values():
            studio.close()
        if self._database is not None:
            self._database.close()

    def studio(self, studio_id: str) -> Studio:
        """Open a studio of the school, or give the one that is open."""
        with self._opening:
            if studio_id not in self._opened:
                wanted = replace(self._backing, studio_id=studio_id)
                opened = Studio.open(self._data, backing=wanted, now=self._now, hasher=self._hasher)
                opened.data.quota = self._quota
                opened.data.count_anew()
                self._opened[studio_id] = opened
            return self._opened[studio_id]

    def ids(self) -> list[str]:
        """List the studios; what is done for all is done studio by studio."""
        if self._database is None or self.is_one:
            return [self._backing.studio_id or FIRST]
        with self._database.reading() as connection:
            return studio_ids(connection)

    def hears_next(self) -> Studio | None:
        """Say in whose studio a take waits whose turn it is, of all; None where none is due in a Postgres."""
        if self._database is None or self.is_one:
            return self.front
        with self._database.reading() as connection:
            found = next_studio(connection)
        return None if found is None else self.studio(found)

    @property
    def is_one(self) -> bool:
        """Tell whether there is but one studio here, since it is a folder's or was named."""
        return self._database is None or self._backing.studio_id is not None

    def rescue(self) -> None:
        """Let takes wait again whose workers are silent, whichever studio they are of."""
        if self._database is None or self.is_one:
            return
        with self._database.reading() as connection:
            lost = studios_lost(connection, STALE)
        for studio_id in lost:
            self.studio(studio_id).queue.rescue()

    def give_back(self, worker: str, *, blamed: bool = False) -> None:
        """Let a worker's take wait again, whichever studio it is of."""
        for studio in self.studios():
            studio.queue.give_back(worker, blamed=blamed)

    def studios(self) -> Iterator[Studio]:
        """Give each studio in turn."""
        return (self.studio(each) for each in self.ids())

    @property
    def front(self) -> Studio:
        """Return the studio that is there before anybody said who they are: the administrator's, if any."""
        if self._database is None:
            return self.studio(FIRST)
        order = teachers.c.administrator.desc(), teachers.c.id
        found = self._teachers(select(teachers).order_by(*order).limit(1))
        if not found:
            raise StudioMissing(where=self._database.where)
        return self.studio(self._backing.studio_id or found[0].id)

    def of_secret(self, secret: str) -> Studio | None:
        """Say whose studio a session's, a link's or a calendar's secret opens, if it opens one."""
        if self._database is None:
            return self.front
        hashed = sha256_of(secret)
        for studio in list(self._opened.values()):
            if studio.access.is_unkept(hashed):
                return studio
        with self._database.reading() as connection:
            found = studio_of_secret(connection, hashed)
        return None if found is None else self.studio(found)

    def teachers(self) -> list[Teacher]:
        """List who teaches here, by name."""
        found = self._teachers(select(teachers))
        return sorted(found, key=lambda each: (each.name.casefold(), each.id))

    def teacher(self, studio_id: str) -> Teacher | None:
        """Find whose a studio is."""
        return next(iter(self._where(teachers.c.id == studio_id)), None)

    def by_login(self, login: str) -> Teacher | None:
        """Find a teacher by the name that was typed, whatever its capitals."""
        return next(iter(self._where(teachers.c.login == login.strip().casefold())), None)

    @property
    def asks_names(self) -> bool:
        """Tell whether a teacher must say who they are: in a school."""
        return bool(self._where(teachers.c.login.is_not(None)))

    def add(self, login: str, name: str, password: str, *, administrator: bool = False) -> Teacher:
        """Take in a teacher, with a new and empty studio.

        Raises
        ------
        WrongOptions
            The name to log in by is taken, or cannot be one.
        """
        teacher = Teacher(new_id(), checked_login(login), _checked_name(name), administrator)
        listed = {each: getattr(teacher, each) for each in ("login", "name", "administrator")}
        backing = replace(self._backing, studio_id=teacher.id)
        try:
            made = Studio.create(
                self._data,
                name=teacher.name,
                password=password,
                backing=backing,
                now=self._now,
                hasher=self._hasher,
                teacher=listed,
            )
        except IntegrityError:
            raise _taken(login) from None
        with closing(made):
            return teacher

    def name_first(self, login: str, name: str) -> Teacher:
        """Give the one teacher who was alone here a name to log in by; the studio stays as it is."""
        named = Teacher(FIRST, checked_login(login), _checked_name(name))
        alone = update(teachers).where(teachers.c.id == FIRST, teachers.c.login.is_(None))
        try:
            with self._school().writing() as connection:
                if connection.execute(alone.values(login=named.login, name=named.name)).rowcount == 0:
                    raise NotFound(what="a teacher without a login name")
        except IntegrityError:
            raise _taken(login) from None
        return named

    def substitutes(self, *, last_from: date | None = None) -> list[Substitute]:
        """List who stands in for whom, the next first; from a day on, if one is given."""
        if self._database is None:
            return []
        query = select(substitutes).order_by(substitutes.c.first, substitutes.c.id)
        if last_from is not None:
            query = query.where(substitutes.c.last >= last_from)
        with self._database.reading() as connection:
            return [Substitute(**row) for row in connection.execute(query).mappings()]

    def stand_in(self, for_id: str, by_id: str, first: date, last: date) -> Substitute:
        """Let a teacher stand in for another one.

        Raises
        ------
        WrongOptions
            They are not two teachers, or the days are not in order or too many.
        """
        teaching = {each.id for each in self.teachers() if not each.administrator}
        if for_id == by_id or not {for_id, by_id} <= teaching:
            raise WrongOptions(got="a substitute who is not another teacher", must_be="two teachers")
        if not timedelta() <= last - first <= LONGEST_SUBSTITUTE:
            got = f"{(last - first).days + 1} days, {first} to {last}"
            raise WrongOptions(
                got=got, must_be=f"1 to {LONGEST_SUBSTITUTE.days + 1} days, the first before the last"
            )
        made = Substitute(new_id(), for_id, by_id, first, last)
        with self._school().writing() as connection:
            connection.execute(insert(substitutes).values(**asdict(made)))
        return made

    def stands_in(self, by_id: str, substitute_id: str, day: date) -> Substitute | None:
        """Find for whom a teacher stands in on a day: as this substitute, or ("") as the first that holds."""
        mine = [each for each in self.substitutes(last_from=day) if each.by_id == by_id and each.is_on(day)]
        return next((each for each in mine if substitute_id in {each.id, ""}), None)

    def stand_in_no_more(self, substitute_id: str) -> None:
        """End that somebody stands in; it holds from this moment."""
        with self._school().writing() as connection:
            gone = delete(substitutes).where(substitutes.c.id == substitute_id)
            if connection.execute(gone).rowcount == 0:
                raise NotFound(what="this substitute")

    def _where(self, which: ColumnElement[bool]) -> list[Teacher]:
        return self._teachers(select(teachers).where(which))

    def _teachers(self, query: Select[tuple[str, str | None, str, bool]]) -> list[Teacher]:
        if self._database is None:
            return []
        with self._database.reading() as connection:
            return [Teacher(**row) for row in connection.execute(query).mappings()]

    def _school(self) -> Database:
        """Return the database that a school is in."""
        if self._database is None:
            raise WrongOptions(
                got="a studio in its own folder", must_be="a school: --database postgresql://..."
            )
        return self._database


def checked_login(typed: str) -> str:
    """Read a name to log in by: letters a to z, digits, and . _ - between; capitals are the same.

    >>> checked_login(" Mara.V ")
    'mara.v'
    """
    login = typed.strip().casefold()
    if not _LOGIN.fullmatch(login):
        must_be = "2 to 40 of the letters a to z, digits, and . _ -, beginning with a letter or digit"
        raise WrongOptions(got=f"the login name {typed[:60]!r}", must_be=must_be)
    return login


def _checked_name(typed: str) -> str:
    name = " ".join(typed.split())
    if not 1 <= len(name) <= 80 or not name.isprintable():
        raise WrongOptions(got=f"the name {typed[:60]!r}", must_be="1 to 80 characters")
    return name


def _taken(login: str) -> WrongOptions:
    return WrongOptions(got=f"the login name {login!r}, which a teacher has already", must_be="another one")
