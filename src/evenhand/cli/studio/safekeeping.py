"""A studio backed up, restored, exported, imported, checked: all held together; and written as a table."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.cli.options import DataOption, ZipOutOption
from evenhand.cli.results import check_place, shown
from evenhand.cli.studio.serve import NAME, data_folder
from evenhand.cli.studio.serve import new_password as asked_password
from evenhand.cli.studio.settings import DatabaseOption, ObjectsOption, StudioOption, backing_of
from evenhand.errors import WrongOptions
from evenhand.report.words.figures import count, listed
from evenhand.studio.values import TEACHER, Said

if TYPE_CHECKING:
    from evenhand.studio.safekeeping.check import Checked, Unsound
    from evenhand.studio.store.layout import Backing
    from evenhand.studio.store.studio import Studio


def size_of(studio: Studio) -> str:
    """Count a studio's students, archived ones too, and its takes."""
    students = len(studio.students.all(archived=None))
    return f"{count(students, 'student')}, {count(sum(studio.queue.counts().values()), 'take')}"


def backup(
    out: ZipOutOption,
    data: DataOption = None,
    database: DatabaseOption = None,
    objects: ObjectsOption = None,
    studio: StudioOption = None,
) -> None:
    """Back up a whole studio to one file while it runs.

    All of it is of one instant; evenhand restore puts it back. It holds what your students trusted you with,
    and still has those you erase later: keep it as safe as the studio, and delete it when it is out of date.
    """
    check_place(out)
    from evenhand.studio.safekeeping.backup import back_up
    from evenhand.studio.store.studio import Studio

    folder = data or data_folder()
    with Studio.open(folder, backing=backing_of(folder, database, objects, studio)) as kept:
        with shown(f"backing up {kept.facts.name}") as progress:
            done = back_up(kept, out, progress=progress)
        size = size_of(kept)
    said = f"{size}, {count(done.recordings, 'recording')}, {out.stat().st_size / 1e6:.1f} MB"
    typer.echo(f"{out}: {said}.")
    if done.missing:
        lost = count(len(done.missing), "recording")
        typer.echo(f"Missing or damaged, so not in it: {lost}. evenhand check says which.")


BackupArgument = Annotated[
    Path, typer.Argument(metavar="FILE.zip", exists=True, dir_okay=False, help="What backup wrote.")
]


def restore(
    file: BackupArgument,
    data: DataOption = None,
    database: DatabaseOption = None,
    objects: ObjectsOption = None,
) -> None:
    """Put a backup back in the studio's place.

    It is unpacked and tried out first. The database that was there before is set aside for 30 days;
    recordings newer than the backup stay, and evenhand check --repair makes takes of them again. End evenhand
    serve first. Password and links are those of the backup; everybody logs in again.
    """
    from evenhand.studio.safekeeping.backup import restore as put_back
    from evenhand.studio.safekeeping.check import without_take
    from evenhand.studio.store.studio import Studio

    folder = data or data_folder()
    backing = backing_of(folder, database, objects, None)
    done = put_back(file, folder, backing=backing)
    with Studio.open(folder, backing=backing) as studio:
        studio.data.sweep()
        newer = without_take(studio)
        typer.echo(f"{folder}: {studio.facts.name}, {size_of(studio)}, as of {done.moment}.")
    if done.before is not None:
        typer.echo(f"The database that was there before is set aside in {done.before} for 30 days.")
    if newer:
        typer.echo(
            f"Not in the backup: {count(newer, 'recording')}. "
            f"evenhand check --data {folder} --repair makes takes of them again."
        )


def export_studio(
    out: ZipOutOption,
    data: DataOption = None,
    database: DatabaseOption = None,
    objects: ObjectsOption = None,
    studio: StudioOption = None,
) -> None:
    """Write a whole studio to one file.

    It holds recordings, what was heard, students, weeks and the book. The file can be opened by a
    spreadsheet's user, and import-studio makes an equal studio of it. It holds what your students trusted
    you with: keep it as you keep the studio.
    """
    check_place(out)
    from evenhand.studio.safekeeping.export import export_studio as export
    from evenhand.studio.store.studio import Studio

    folder = data or data_folder()
    with Studio.open(folder, backing=backing_of(folder, database, objects, studio)) as kept:
        with shown(f"exporting {kept.facts.name}") as progress:
            export(kept, out, progress=progress)
        size = size_of(kept)
    typer.echo(f"{out}: {size}, {out.stat().st_size / 1e6:.1f} MB.")


RowsArgument = Annotated[
    Literal["hits", "takes", "weeks"],
    typer.Argument(metavar="ROWS", help="What a row is: hits, takes, weeks."),
]
TableOutOption = Annotated[
    Path, typer.Option("--out", metavar="FILE", help="Where the table goes: FILE.csv or FILE.parquet.")
]
NamesOption = Annotated[
    bool, typer.Option("--names", help="Put each student's name beside the id; otherwise there are no names.")
]


def table(
    rows: RowsArgument,
    out: TableOutOption,
    data: DataOption = None,
    database: DatabaseOption = None,
    objects: ObjectsOption = None,
    studio: StudioOption = None,
    names: NamesOption = False,  # noqa: FBT002 - a switch
) -> None:
    """Write a table across all students and years.

    A row is a hit, a take, or a week of a student; docs/table.md says what each column is, and in which unit.
    Students have their ids, which stay the same. It holds what your students trusted you with, without names
    too: keep it as you keep the studio. It may run while the studio is open.
    """
    check_place(out)
    if out.suffix not in {".csv", ".parquet"}:
        raise WrongOptions(got=f"--out {out}", must_be="a file that ends in .csv or .parquet")
    from evenhand.studio.safekeeping.form import written_whole
    from evenhand.studio.store.studio import Studio
    from evenhand.studio.whole.table import csv_table, parquet_table

    folder = data or data_folder()
    backing = backing_of(folder, database, objects, studio)
    with Studio.open(folder, backing=backing) as kept, shown(f"writing {out.name}") as progress:
        if out.suffix == ".parquet":
            parquet_table(kept, rows, out, names=names, progress=progress)
        else:
            with written_whole(out) as file:
                file.writelines(csv_table(kept, rows, names=names, progress=progress))
    said = "with" if names else "without"
    typer.echo(f"{out}: {rows}, {out.stat().st_size / 1e6:.1f} MB, {said} students' names.")


FileArgument = Annotated[
    Path, typer.Argument(metavar="FILE.zip", exists=True, dir_okay=False, help="What export-studio wrote.")
]
NewDataOption = Annotated[
    Path | None,
    typer.Option(
        "--data",
        metavar="DIR",
        help="The new studio's folder, empty or not there yet; your own data folder if not given.",
    ),
]


def import_studio(
    file: FileArgument,
    data: NewDataOption = None,
    database: DatabaseOption = None,
) -> None:
    """Make a studio of an exported file.

    It equals the one that was exported. The teacher's password and the students' links work as before;
    everybody signs in anew. A file that is not whole is refused, and nothing is left behind.
    """
    from evenhand.studio.safekeeping.export import import_studio as read_in

    folder = data or data_folder()
    with read_in(file, folder, backing=backing_of(folder, database, None, None)) as studio:
        typer.echo(f"{folder}: {studio.facts.name}, {size_of(studio)}.")


NOT_WELL = 3
MOST_SAID = 20

RepairOption = Annotated[
    bool,
    typer.Option(
        "--repair", help="Make takes again of recordings that have none. Nothing is deleted; see the docs."
    ),
]

ScrubOption = Annotated[
    bool,
    typer.Option("--scrub", help="Go on where an earlier --scrub was broken off: for very many recordings."),
]


def check(
    data: DataOption = None,
    database: DatabaseOption = None,
    objects: ObjectsOption = None,
    studio: StudioOption = None,
    repair: RepairOption = False,  # noqa: FBT002 - a switch
    scrub: ScrubOption = False,  # noqa: FBT002 - the same
) -> None:
    """Check that everything in a studio is there.

    Looks at rows, recordings and their hashes: whether each is as it came in. It may run while the studio
    is open. The exit code is 3 where something is missing, damaged, or without its take. Where the database
    is lost, --repair makes a new studio of the recordings.
    """
    from evenhand.studio.safekeeping.check import check_studio, repair_studio
    from evenhand.studio.safekeeping.scrub import notes_of

    folder = data or data_folder()
    with _opened(folder, backing_of(folder, database, objects, studio), repair=repair) as kept:
        if repair:
            with shown("putting right") as progress:
                done = repair_studio(kept, progress)
            typer.echo(
                f"{count(done.found, 'take')} made again from recordings, {done.nobodys} of them without a "
                f"student; {count(done.mended, 'take')} given back the recording."
            )
        notes = notes_of(kept.data) if scrub else None
        if notes is not None and notes.through:
            typer.echo(f"Goes on where one that began on {notes.since:%Y-%m-%d} was broken off.")
        with shown("reading every recording") as progress:
            checked = check_studio(kept, progress, notes)
        _say(folder, kept, checked)
    if not checked.is_well:
        raise typer.Exit(NOT_WELL)


def _opened(folder: Path, backing: Backing, *, repair: bool) -> Studio:
    """Open the studio; to be repaired, one without a database gets a new one."""
    from evenhand.errors import StudioDamaged, StudioLost
    from evenhand.studio.safekeeping.check import hold_together
    from evenhand.studio.store.studio import Studio, set_database_aside

    try:
        studio = Studio.open(folder, backing=backing)
        with studio.closed_by_an_error():
            hold_together(studio)
    except StudioLost as lost:
        if not repair:
            raise
        typer.echo(f"{folder}: a new database is made for {count(lost.recordings, 'recording')}.")
    except StudioDamaged:
        if not repair or backing.url is not None:
            raise
        place = set_database_aside(folder)
        typer.echo(f"The damaged database is set aside in {place}; a new one is made.")
    else:
        return studio
    return Studio.create(folder, name=NAME, password=asked_password(), backing=backing, of_recordings=True)


def decoder_words() -> str:
    """Say what the process that decodes recordings could do besides: it is asked to try."""
    from evenhand.media.decoder import DecoderEnded, shared_decoder

    try:
        could = shared_decoder().could()
    except DecoderEnded as ended:
        return f"Recordings that must be decoded cannot be heard: {ended.why}."
    if not could:
        return (
            "Recordings are decoded by a process that can open no file, reach no network and start nothing."
        )
    return (
        f"Recordings are decoded by a process that is not closed off: it could reach {listed(could)}. "
        "On Linux, install libseccomp (Debian: libseccomp2); elsewhere only its memory and time are limited."
    )


def _say(folder: Path, studio: Studio, checked: Checked) -> None:
    """Say what was found."""
    size = f"{count(checked.recordings, 'recording')}, {checked.n_bytes / 1e6:.1f} MB"
    typer.echo(f"{folder}: {studio.facts.name}, {size_of(studio)}, {size}.")
    typer.echo(decoder_words())
    names = {each.id: each.name for each in studio.students.all(archived=None)} | {TEACHER: "all students"}
    for unsound in checked.unsound[:MOST_SAID]:
        typer.echo(_unsound_words(unsound, names))
    if len(checked.unsound) > MOST_SAID:
        typer.echo(f"... and {len(checked.unsound) - MOST_SAID} more.")
    if checked.left:
        typer.echo(
            f"Without a take: {count(len(checked.left), 'recording')}. "
            f"evenhand check --data {folder} --repair makes takes of them again."
        )
    for place, n, until in checked.aside:
        typer.echo(f"Set aside, kept until {until}: {count(n, 'recording')} in {place}.")
    if checked.is_well:
        typer.echo("Every take has its recording, as it came in.")


def _unsound_words(unsound: Unsound, names: dict[str, str]) -> str:
    """Say which take lacks its recording."""
    row = unsound.take
    if isinstance(row, Said):
        of, at = "something spoken", row.said_at
    else:
        of, at = row.exercise or "blind", row.recorded_at
    what = "damaged" if unsound.damaged else "missing"
    whose = names.get(row.student_id, "nobody")
    return f"{what.capitalize()}: {whose}, {at.astimezone():%Y-%m-%d %H:%M}, {of}: {unsound.key}"


NewPasswordOption = Annotated[
    bool, typer.Option("--new-password", help="Ask for a new password, too: the old one is forgotten.")
]


def reset_login(
    data: DataOption = None,
    database: DatabaseOption = None,
    studio: StudioOption = None,
    new_password: NewPasswordOption = False,  # noqa: FBT002 - a switch
) -> None:
    """Let a teacher who is locked out come in again.

    Switches two-step login off and logs the teacher out everywhere; with --new-password it sets a new
    password, too. Whoever can write to the studio's folder can do it, so it needs nothing else. It may run
    while the studio is open. Students and their links stay as they are.
    """
    from evenhand.studio.store.studio import Studio

    folder = data or data_folder()
    with Studio.open(folder, backing=backing_of(folder, database, None, studio)) as kept:
        password = asked_password() if new_password else None
        kept.access.second.drop()
        if password is None:
            kept.access.end_all("teacher")
        else:
            kept.access.change_password(password)
            kept.log.note("password changed", "nobody", address="the command line")
        kept.log.note("second factor off", "nobody", address="the command line")
        opens = "the new password" if new_password else "the password alone"
        typer.echo(f"{kept.facts.name}: two-step login is off, and {opens} opens it. Log in again.")
