"""One family of errors, drawn as a tree.

EvenhandError                what went wrong, what it must be, what was got, what to do
├── WrongUse                 the call itself is off (exit code 2)
│   ├── BadExercise          the exercise text cannot be read; names the column
│   ├── BadTempo             the tempo cannot be read
│   ├── BadText              a text, a table or a document cannot be read; names the place
│   │   ├── BadList          a list of takes
│   │   ├── BadDocument      JSON that should be a heard take's
│   │   ├── BadBook          a book of exercises
│   │   ├── BadPlan          a week's plan
│   │   ├── BadHistory       a student's folder of takes
│   │   └── BadPath          a path's stages
│   ├── StudioMissing        there is no studio where one was to be
│   ├── StudioThere          there is a studio already
│   ├── StudioLost           recordings lie where the database that names them is not
│   ├── StudioOpen           a studio is in use that was to be replaced
│   ├── NotFound             no such student, take or week
│   ├── BadExport            a file is no studio's export, or no backup
│   ├── UnreadableScore      a file holds no music that can be taken over
│   ├── BadSamples           a folder of drum samples holds none
│   ├── UnprintableText      a typed letter is in no font here, or an address is too long for its code
│   ├── WrongOptions         what was asked for does not go together
│   ├── CannotWrite          a file cannot be written where it was asked for
│   └── StudioFull           there is no room for more recordings
├── CannotEngrave            the music of an exercise cannot be drawn (exit code 1)
├── CannotPrint              a page cannot be set (exit code 1)
├── CannotKeep               the studio's disk does not do its part (exit code 3)
│   ├── DiskFull             there is no room
│   ├── ReadOnly             nothing can be written there
│   ├── StudioDamaged        the studio's database cannot be read
│   ├── DatabaseAway         the Postgres cannot be reached, or went away
│   └── StoreAway            the store in which recordings lie cannot be reached, or refuses
└── CannotHear               the recording cannot be heard (exit code 3)
    ├── UnreadableRecording  the file is no recording we can decode
    ├── StretchedTime        it is slow motion, so no time in it is the playing's
    ├── DamagedRecording     a studio's recording is missing or is not what came in
    ├── NoSound              nothing in it sounds
    ├── NothingHeard         there is sound, but no hits
    └── NothingSeen          there are pictures, but no stick in them can be followed
"""

from __future__ import annotations

from collections.abc import Mapping


class EvenhandError(Exception):
    """Root of the family. ``exit_code`` is what the command line ends with."""

    exit_code = 1

    def __reduce__(self) -> tuple[object, ...]:
        """Go whole from process to process, facts and all."""
        return _remade, (type(self), self.args, dict(self.__dict__))


def _remade(kind: type[EvenhandError], args: tuple[object, ...], facts: dict[str, object]) -> EvenhandError:
    """Make an error again as it was."""
    error = kind.__new__(kind, *args)
    error.__dict__.update(facts)
    return error


class WrongUse(EvenhandError):
    """The call itself is off."""

    exit_code = 2


class BadText(WrongUse):
    """Text, a table or a document cannot be read: where, what was got there, and what must be."""

    def __init__(self, *, where: str, got: str, must_be: str) -> None:
        self.where, self.got, self.must_be = where, got, must_be
        super().__init__(f"{where}: got {got}; must be {must_be}.")


class BadExercise(WrongUse):
    """The exercise text cannot be read."""

    def __init__(self, *, column: int, found: str, must_be: str, text: str = "") -> None:
        self.column, self.found, self.must_be, self.text = column, found, must_be, text
        super().__init__(f"exercise, column {column}: found {found}; must be {must_be}.")


class BadTempo(WrongUse):
    """The tempo cannot be read."""

    def __init__(self, *, got: str, must_be: str) -> None:
        self.got, self.must_be = got, must_be
        super().__init__(f"tempo: got {got}; must be {must_be}.")


class BadList(BadText):
    """A list of takes cannot be read."""


class BadDocument(BadText):
    """JSON is not that of a heard take."""


class BadBook(BadText):
    """A book of exercises cannot be read."""


class BadPlan(BadText):
    """A week's plan cannot be read."""


class BadHistory(BadText):
    """A student's folder of takes cannot be read."""


class BadPath(BadText):
    """A path's stages cannot be read."""


class StudioMissing(WrongUse):
    """There is no studio where one was to be."""

    def __init__(self, *, where: str) -> None:
        self.where = where
        super().__init__(f"{where}: there is no studio here. Make one: evenhand serve --data {where}.")


class StudioThere(WrongUse):
    """There is a studio already."""

    def __init__(self, *, where: str) -> None:
        self.where = where
        super().__init__(
            f"{where}: there is a studio here already. Name an empty folder, or use that studio."
        )


class StudioLost(WrongUse):
    """Recordings lie where the database that names them is not."""

    def __init__(self, *, where: str, recordings: int) -> None:
        self.where, self.recordings = where, recordings
        lie = "1 recording lies" if recordings == 1 else f"{recordings} recordings lie"
        super().__init__(
            f"{where}: {lie} here, and studio.sqlite, which names them, is missing or empty. Nothing was "
            f"changed. Put it back: copy studio.sqlite here, or evenhand restore BACKUP --data {where}. "
            f"Without a backup, evenhand check --data {where} --repair makes a studio of the recordings. "
            "For a new studio, name an empty folder."
        )


class StudioOpen(WrongUse):
    """A studio is in use that was to be replaced."""

    def __init__(self, *, where: str) -> None:
        self.where = where
        super().__init__(f"{where}: the studio is open. End evenhand serve, then try again.")


class NotFound(WrongUse):
    """No such student, take or week."""

    def __init__(self, *, what: str) -> None:
        self.what = what
        super().__init__(f"{what}: not found. It may have been erased.")


class BadExport(WrongUse):
    """A file is no studio's export, or no backup."""

    def __init__(self, *, name: str, got: str, wrote: str = "evenhand export-studio") -> None:
        self.name, self.got = name, got
        super().__init__(f"{name}: {got}. It must be a file that {wrote} wrote, whole.")


class UnreadableScore(WrongUse):
    """A file holds no music that can be taken over."""

    def __init__(self, *, name: str, got: str, do: str) -> None:
        self.name, self.got, self.do = name, got, do
        super().__init__(f"{name}: {got}. {do}")


class BadSamples(WrongUse):
    """A folder of drum samples holds none."""

    def __init__(self, *, folder: str, got: str) -> None:
        self.folder, self.got = folder, got
        super().__init__(
            f"{folder}: got {got}; must be a folder with one hit of a drum in each file, wav or flac."
        )


class UnprintableText(WrongUse):
    """What was typed cannot be put on paper: no font here holds its letters, or it is too long."""

    def __init__(self, *, got: str) -> None:
        self.got = got
        super().__init__(f"printing: {got}.")


class WrongOptions(WrongUse):
    """What was asked for does not go together."""

    def __init__(self, *, got: str, must_be: str) -> None:
        self.got, self.must_be = got, must_be
        super().__init__(f"got {got}; must be {must_be}.")


class CannotWrite(WrongUse):
    """A file cannot be written where it was asked for."""

    def __init__(self, *, name: str, got: str) -> None:
        self.name, self.got = name, got
        super().__init__(
            f"{name}: cannot be written ({got}). Name a place that exists and that you may write to."
        )


class StudioFull(WrongUse):
    """There is no room for more recordings."""

    def __init__(self, *, whose: str, got_gb: float, most_gb: float) -> None:
        self.whose, self.got_gb, self.most_gb = whose, got_gb, most_gb
        super().__init__(
            f"{whose}: {got_gb:.3g} GB with this one, and at most {most_gb:.3g} GB are kept. "
            "Delete some takes, or allow more when the studio is served (--student-gb, --studio-gb)."
        )


class CannotEngrave(EvenhandError):
    """The music of an exercise cannot be drawn."""

    def __init__(self, *, got: str) -> None:
        self.got = got
        super().__init__(f"engraving: {got}.")


class CannotPrint(EvenhandError):
    """A page cannot be set."""

    def __init__(self, *, got: str) -> None:
        self.got = got
        super().__init__(f"printing: {got}.")


class CannotKeep(EvenhandError):
    """The studio's disk does not do its part."""

    exit_code = 3


class DiskFull(CannotKeep):
    """There is no room."""

    def __init__(self, *, where: str) -> None:
        self.where = where
        super().__init__(
            f"{where}: there is no room on the disk. Free some, then try again. What was kept before is safe."
        )


class ReadOnly(CannotKeep):
    """Nothing can be written there."""

    def __init__(self, *, where: str, got: str) -> None:
        self.where, self.got = where, got
        super().__init__(
            f"{where}: nothing can be written here ({got}). Let the user that runs evenhand write to this "
            "folder and what is in it, on a disk that is not read-only."
        )


class StudioDamaged(CannotKeep):
    """The studio's database cannot be read."""

    def __init__(self, *, where: str, got: str) -> None:
        self.where, self.got = where, got
        super().__init__(
            f"{where}: the studio's database is damaged ({got}). The recordings are untouched. Put a backup "
            f"back: evenhand restore BACKUP --data {where}. Without one, evenhand check --data {where} "
            "--repair makes a studio of the recordings."
        )


class DatabaseAway(CannotKeep):
    """The Postgres that holds a studio cannot be reached, or went away."""

    def __init__(self, *, where: str, got: str) -> None:
        self.where, self.got = where, got
        super().__init__(
            f"{where}: no Postgres answers there ({got}). Look whether it runs and can be reached from here, "
            "and whether name and password are right, then try again. What was kept is safe."
        )


class StoreAway(CannotKeep):
    """The store in which recordings lie cannot be reached, or does not do what it is asked."""

    _KEYS = (
        "Set AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY to keys that may read, write, list and delete there."
    )
    _DO: Mapping[str, str] = {
        "refuses these keys": _KEYS,
        "was asked without keys": _KEYS,
        "has no such bucket": "Make the bucket, or name another one with --objects.",
    }
    _TRY = "Look whether it runs and can be reached from here, then try again. What was kept is safe."

    SILENT = "does not answer"

    def __init__(self, *, where: str, got: str = SILENT) -> None:
        self.where, self.got = where, got
        super().__init__(f"{where} {got}. {self._DO.get(got, self._TRY)}")

    @property
    def may_pass(self) -> bool:
        """Tell whether it may pass by itself: the store does not answer."""
        return self.got == self.SILENT


class CannotHear(EvenhandError):
    """The recording cannot be heard."""

    exit_code = 3


class UnreadableRecording(CannotHear):
    """The file is no recording we can decode."""

    def __init__(self, *, name: str, got: str, do: str) -> None:
        self.name, self.got, self.do = name, got, do
        super().__init__(f"{name}: {got}. {do}")


class StretchedTime(CannotHear):
    """It is slow motion, so no time in it is the playing's."""

    def __init__(self, *, name: str, got: str, do: str) -> None:
        self.name, self.got, self.do = name, got, do
        super().__init__(f"{name}: {got}. {do}")


class DamagedRecording(CannotHear):
    """A studio's recording is missing on its disk, or is not what came in."""

    def __init__(self, *, got: str) -> None:
        self.got = got
        super().__init__(
            f"the recording {got}. Record it again, or put it back from a backup; "
            "evenhand check lists all such takes."
        )


class NoSound(CannotHear):
    """Nothing in it sounds."""

    def __init__(self, *, got: str, do: str) -> None:
        self.got, self.do = got, do
        super().__init__(f"{got}. {do}")


class NothingHeard(CannotHear):
    """There is sound, but no hits."""

    def __init__(self, *, got: str, do: str) -> None:
        self.got, self.do = got, do
        super().__init__(f"{got}. {do}")


class NothingSeen(CannotHear):
    """There are pictures, but no stick in them can be followed."""

    def __init__(self, *, got: str, do: str) -> None:
        self.got, self.do = got, do
        super().__init__(f"{got}. {do}")
