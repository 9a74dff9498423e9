"""``evenhand listen`` hears one take; ``evenhand listen-all`` a whole list of them."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.acts.takes.request import TakeRequest
from evenhand.cli.options import (
    BeginsAtOption,
    ClickOption,
    ExerciseOption,
    JsonOption,
    ListArgument,
    MidiNotesOption,
    PatternOption,
    ReportOption,
    TakeArgument,
    TempoOption,
    hearing,
    listed_takes,
    midi_notes_of,
)
from evenhand.cli.results import check_places, give, make_folder, say_line, shown, write
from evenhand.errors import CannotHear, CannotWrite, WrongOptions

if TYPE_CHECKING:
    from evenhand.acts.takes.many import ListedResult, ListedTake
    from evenhand.measuring.values import HeardTake


AgainOption = Annotated[
    Path | None,
    typer.Option(
        "--again",
        metavar="FILE.json",
        help="What was heard of it before: hear it again, and say what changed.",
    ),
]


def listen(
    take: TakeArgument,
    exercise: ExerciseOption = None,
    tempo: TempoOption = None,
    click: ClickOption = "auto",
    pattern: PatternOption = "",
    begins_at: BeginsAtOption = None,
    json: JsonOption = None,
    report: ReportOption = None,
    midi_notes: MidiNotesOption = "37,38,40",
    again: AgainOption = None,
) -> None:
    """Hear one take, and say what each hand did.

    Without an exercise it is heard blind: every hit's time and level, but no hands.
    """
    before = None if again is None else _heard_before(again, exercise or tempo)
    if before is not None:
        exercise, tempo = before.exercise_text, None if before.tempo is None else str(before.tempo)
        begins_at = before.heard.begins_at_s if begins_at is None else begins_at
    asked = TakeRequest.read(exercise, tempo, click, begins_at_s=begins_at, pattern=pattern)
    notes = midi_notes_of(midi_notes)
    check_places(json, report, reads=(take, again))
    with hearing(take) as progress:
        from evenhand.acts.takes.document import json_text
        from evenhand.acts.takes.hear import hear_take
        from evenhand.media.open_take import open_take

        heard = hear_take(take, asked, opens=open_take, midi_notes=notes, progress=progress)
    if give((json, lambda: json_text(heard)), (report, lambda: report_of(heard))):
        from evenhand.cli.tables.take import say

        say(heard, report=report)
        if before is not None:
            from evenhand.report.words.again import changed_words

            for sentence in changed_words(before, heard):
                say_line(sentence)


def _heard_before(path: Path, asked: str | None) -> HeardTake:
    """Read what was heard of a take before; the exercise and the tempo are those of then."""
    from evenhand.acts.takes.document import heard_take_in

    if asked:
        raise WrongOptions(got="--again and an exercise or a tempo", must_be="--again alone: it has them")
    return heard_take_in(path)


def report_of(heard: HeardTake) -> str:
    """Write the report of a take; what it is made with is loaded when it is asked for."""
    from evenhand.report.take.report import report_text

    return report_text(heard)


OutOption = Annotated[
    Path, typer.Option("--out", metavar="DIR", help="Where each take's figures go, as DIR/<stem>.json.")
]
JobsOption = Annotated[
    int | None, typer.Option("--jobs", metavar="N", min=1, help="How many at once; all cores if not given.")
]


def listen_all(
    takes: ListArgument,
    out: OutOption,
    jobs: JobsOption = None,
    midi_notes: MidiNotesOption = "37,38,40",
) -> None:
    """Hear a whole list of takes on all cores.

    One that cannot be heard does not stop the rest; it is named at the end, and the exit code is 3.
    """
    notes = midi_notes_of(midi_notes)
    listed = listed_takes(takes)
    make_folder(out)
    failed = _hear_all(listed, out, jobs, notes)
    typer.echo(f"{len(listed) - len(failed)} of {len(listed)} takes heard; their figures are in {out}")
    for one in failed:
        name, reason = one.listed.path.name, one.reason or ""
        say_line(f"row {one.listed.row}, {name}: {reason.removeprefix(f'{name}: ')}")
    if failed:
        raise typer.Exit(CannotHear.exit_code)


def _hear_all(
    listed: Sequence[ListedTake], out: Path, jobs: int | None, midi_notes: tuple[int, ...]
) -> list[ListedResult]:
    """Hear all, write each as it comes, and return those that failed, in the list's order.

    One that fails leaves no file, not even an older one: what lies there was heard now.
    """
    from evenhand.acts.takes.many import hear_list
    from evenhand.media.open_take import open_take

    failed = []
    with shown(f"hearing {len(listed)} takes", total=len(listed)) as progress:
        heard = hear_list(listed, opens=open_take, jobs=jobs, midi_notes=midi_notes)
        for done, result in enumerate(heard, start=1):
            kept = keep_result(result, out / f"{result.listed.stem}.json")
            if kept.json is None:
                failed.append(kept)
            progress(done)
    return sorted(failed, key=lambda result: result.listed.row)


def keep_result(result: ListedResult, place: Path) -> ListedResult:
    """Write what was heard, or take away what lies there from before; say what became of it."""
    if result.json is None:
        with suppress(OSError):
            place.unlink(missing_ok=True)
        return result
    try:
        write(place, result.json)
    except CannotWrite as error:
        return replace(result, json=None, reason=str(error))
    return result
