"""Tests of one student: ``evenhand bounce``, ``minute``, ``ceiling`` and ``heights``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.acts.takes.request import TakeRequest
from evenhand.cli.options import (
    ClickOption,
    ExerciseOption,
    JsonOption,
    ListArgument,
    MidiNotesOption,
    PictureOption,
    ReportOption,
    TakeArgument,
    TempoOption,
    UnitOption,
    finite,
    hearing,
    listed_takes,
    midi_notes_of,
    read_text,
)
from evenhand.cli.results import check_places, give, group_help, say_line, shown
from evenhand.cli.watch import PadOption, StickOption, TapeOption
from evenhand.errors import BadDocument, BadList, WrongOptions
from evenhand.music.strokes.heights import COMMON_HEIGHTS, HeightRange, StrokeHeights

if TYPE_CHECKING:
    from evenhand.progress.heights import HeightCalibration


GripsOption = Annotated[
    str | None,
    typer.Option("--grips", metavar="NAMES", help="The grip of each drop, in order, with commas between."),
]
HandsOption = Annotated[
    str | None, typer.Option("--hands", metavar="HANDS", help="The hand of each drop, such as R,L,R,L.")
]
TableOption = Annotated[
    Path | None,
    typer.Option(
        "--table",
        metavar="FILE.csv",
        exists=True,
        dir_okay=False,
        help="The same as a table: a heading, grip or hand or both, and a row for each drop.",
    ),
]


def bounce(
    take: TakeArgument,
    grips: GripsOption = None,
    hands: HandsOption = None,
    table: TableOption = None,
    json: JsonOption = None,
    report: ReportOption = None,
    picture: PictureOption = None,
    midi_notes: MidiNotesOption = "37,38,40",
    unit: UnitOption = "in",
    tape: TapeOption = "auto",
    pad_cm: PadOption = None,
    stick_cm: StickOption = None,
) -> None:
    """Hear drops of the stick: how freely it rebounds.

    Drop the stick on the pad and leave it alone until it rests; several times, with each hand or grip.
    A video with tape on the stick is watched, too: heights as they are seen.
    """
    labels = _labels(grips, hands, table)
    notes = midi_notes_of(midi_notes)
    check_places(json, report, picture, reads=(take, table))
    with hearing(take) as progress:
        from evenhand.acts.takes.dropped import drops_request, seen_too
        from evenhand.acts.takes.tests import bounce_text, hear_bounce
        from evenhand.media.film.reader import FilmReader
        from evenhand.media.open_take import open_take
        from evenhand.report.plots.tests import bounce_drawing, bounce_page

        asked = drops_request(tape, pad_cm=pad_cm, stick_cm=stick_cm)
        heard = hear_bounce(take, labels, opens=open_take, midi_notes=notes, progress=progress)
        heard = seen_too(take, heard, asked, films=FilmReader(), progress=progress)
    if give(
        (json, lambda: bounce_text(heard)),
        (report, lambda: bounce_page(heard, unit)),
        (picture, lambda: bounce_drawing(heard)),
    ):
        from evenhand.cli.tables.tests import say_bounce

        say_bounce(heard, unit)


def _labels(grips: str | None, hands: str | None, table: Path | None) -> tuple[str, ...]:
    """Read what each drop was, from the one place that says it."""
    if sum(each is not None for each in (grips, hands, table)) > 1:
        raise WrongOptions(got="more than one of --grips, --hands and --table", must_be="one of them")
    from evenhand.acts.takes.history import table_labels, typed_grips, typed_hands

    if grips is not None:
        return typed_grips(grips)
    if hands is not None:
        return typed_hands(hands)
    if table is not None:
        text = read_text(table, error=BadList, must_be="a table of the drops as CSV")
        return table_labels(text, table.name)
    return ()


SecondsOption = Annotated[
    float,
    typer.Option(
        "--seconds", metavar="S", min=2, max=3600, help="How long is counted, from the first stroke on."
    ),
]
ClickInOption = Annotated[
    Literal["heard", "none"], typer.Option("--click", help="Whether a click sounds in the recording.")
]
FirstHandOption = Annotated[
    Literal["R", "L"] | None,
    typer.Option("--first", help="The hand that began: then the hands have their names."),
]


def minute(
    take: TakeArgument,
    seconds: SecondsOption = 60.0,
    click: ClickInOption = "none",
    first: FirstHandOption = None,
    json: JsonOption = None,
    report: ReportOption = None,
    picture: PictureOption = None,
    midi_notes: MidiNotesOption = "37,38,40",
) -> None:
    """Count the single strokes of a minute.

    Says how even they are and whether they tire. The count begins at the first stroke. A
    shorter take is counted whole; its rate gives strokes a minute.
    """
    notes = midi_notes_of(midi_notes)
    check_places(json, report, picture, reads=(take,))
    with hearing(take) as progress:
        from evenhand.acts.takes.tests import MinuteRequest, hear_minute, minute_text
        from evenhand.media.open_take import open_take
        from evenhand.report.plots.tests import minute_drawing, minute_page

        asked = MinuteRequest(seconds, click, first)
        heard = hear_minute(take, asked, opens=open_take, midi_notes=notes, progress=progress)
    if give(
        (json, lambda: minute_text(heard)),
        (report, lambda: minute_page(heard)),
        (picture, lambda: minute_drawing(heard)),
    ):
        from evenhand.cli.tables.tests import say_minute

        say_minute(heard)


def ceiling(takes: ListArgument, json: JsonOption = None, picture: PictureOption = None) -> None:
    """Find the fastest tempo that is still in control.

    The list holds takes of one exercise at several tempos, or one take whose tempo steps up. It says up
    to which tempo to practise, at which to record one more, and when it knows enough.
    """
    listed = listed_takes(takes)
    check_places(json, picture, reads=(takes, *(each.path for each in listed)))
    from evenhand.acts.documents import json_of
    from evenhand.acts.takes.many import ceiling_drawing, ceiling_json, hear_ceiling
    from evenhand.media.open_take import open_take

    with shown(f"hearing {len(listed)} takes", total=len(listed)) as progress:
        found = hear_ceiling(listed, opens=open_take, progress=progress)
    for reason in found.left_out:
        say_line(f"left out: {reason}")
    if give((json, lambda: json_of(ceiling_json(found))), (picture, lambda: ceiling_drawing(found.ceiling))):
        from evenhand.cli.tables.tests import say_ceiling

        say_ceiling(found, picture=picture)


height_commands = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


height_commands.callback(invoke_without_command=True)(
    group_help("Learn stick height from level, and tell strokes by it.")
)


def _take_option(name: str, what: str) -> object:
    return typer.Option(
        name, metavar="TAKE", exists=True, dir_okay=False, help=f"A recording of {what} only."
    )


HeightOption = Annotated[
    float | None,
    typer.Option(
        min=1.0,
        max=100.0,
        metavar="CM",
        callback=finite,
        help="How high these were played, if not as is common.",
    ),
]
EvenSoOption = Annotated[bool, typer.Option("--even-so", help="Say it though the set-up seems changed.")]


@height_commands.command("calibrate")
def calibrate(
    tap: Annotated[Path, _take_option("--tap", "taps")],
    half: Annotated[Path, _take_option("--half", "half strokes")],
    full: Annotated[Path, _take_option("--full", "full strokes")],
    out: Annotated[Path, typer.Option("--out", metavar="FILE.json", help="Where the calibration goes.")],
    exercise: ExerciseOption = None,
    tempo: TempoOption = None,
    click: ClickOption = "auto",
    tap_cm: HeightOption = None,
    half_cm: HeightOption = None,
    full_cm: HeightOption = None,
    picture: PictureOption = None,
    midi_notes: MidiNotesOption = "37,38,40",
    unit: UnitOption = "in",
) -> None:
    """Fit level to height by three takes: taps, halves, fulls.

    With an exercise and its tempo each hand gets a scale of its own. Leave pad, microphone and gain alone
    from here on; a recorder that rides its gain cannot be calibrated.
    """
    asked, notes = TakeRequest.read(exercise, tempo, click), midi_notes_of(midi_notes)
    aimed = _heights(tap_cm, half_cm, full_cm)
    check_places(out, picture, reads=(tap, half, full))
    calibration = _calibrate({"tap": tap, "half": half, "full": full}, asked, aimed, notes)
    from evenhand.acts.takes.heights import calibration_text
    from evenhand.report.plots.heights import calibration_drawing

    if give(
        (out, lambda: calibration_text(calibration)),
        (picture, lambda: calibration_drawing(calibration, unit)),
    ):
        from evenhand.cli.tables.tests import say_calibration

        say_calibration(calibration, out)


def _heights(tap_cm: float | None, half_cm: float | None, full_cm: float | None) -> StrokeHeights:
    """Set the heights; a class's range keeps its shape about another aim."""

    def about(common: HeightRange, aim_cm: float | None) -> HeightRange:
        if aim_cm is None:
            return common
        share = aim_cm / common.aim_cm
        return HeightRange(common.low_cm * share, common.high_cm * share, aim_cm)

    common = COMMON_HEIGHTS
    aimed = StrokeHeights(about(common.tap, tap_cm), about(common.half, half_cm), about(common.full, full_cm))
    if not aimed.tap.aim_cm < aimed.half.aim_cm < aimed.full.aim_cm:
        got = f"{aimed.tap.aim_cm:g}, {aimed.half.aim_cm:g} and {aimed.full.aim_cm:g} cm"
        raise WrongOptions(got=got, must_be="taps lower than halves, and halves lower than fulls")
    return aimed


def _calibrate(
    takes: dict[str, Path], asked: TakeRequest, aimed: StrokeHeights, midi_notes: tuple[int, ...]
) -> HeightCalibration:
    """Hear the three takes."""
    from evenhand.acts.takes.heights import calibrate_heights
    from evenhand.media.open_take import open_take
    from evenhand.music.strokes.heights import STROKE_CLASSES

    by_class = {stroke: takes[stroke] for stroke in STROKE_CLASSES}
    with shown("hearing taps, halves and fulls") as progress:
        return calibrate_heights(
            by_class, asked, aimed, opens=open_take, midi_notes=midi_notes, progress=progress
        )


@height_commands.command("say")
def say(
    take: Annotated[
        Path,
        typer.Argument(metavar="TAKE", exists=True, dir_okay=False, help="A recording of the same set-up."),
    ],
    calibration: Annotated[
        Path,
        typer.Option(
            "--calibration",
            metavar="FILE.json",
            exists=True,
            dir_okay=False,
            help="What calibrate has written.",
        ),
    ],
    exercise: ExerciseOption = None,
    tempo: TempoOption = None,
    click: ClickOption = "auto",
    even_so: EvenSoOption = False,  # noqa: FBT002 - a switch
    json: JsonOption = None,
    picture: PictureOption = None,
    midi_notes: MidiNotesOption = "37,38,40",
) -> None:
    """Say which stroke each hit most likely was.

    It is a tap, a half or a full stroke, with how sure that is.
    """
    asked, notes = TakeRequest.read(exercise, tempo, click), midi_notes_of(midi_notes)
    check_places(json, picture, reads=(take, calibration))
    with hearing(take) as progress:
        from evenhand.acts.takes.heights import read_calibration, said_text, say_heights
        from evenhand.media.open_take import open_take
        from evenhand.report.plots.heights import said_drawing

        text = read_text(calibration, error=BadDocument, must_be="what evenhand heights calibrate wrote")
        scale = read_calibration(text, calibration.name)
        said = say_heights(
            take, asked, scale, opens=open_take, even_so=even_so, midi_notes=notes, progress=progress
        )
    drawn = picture if said.refused is None else None
    if give((json, lambda: said_text(said)), (drawn, lambda: said_drawing(said, scale.heights))):
        from evenhand.cli.tables.tests import say_said

        say_said(said)
