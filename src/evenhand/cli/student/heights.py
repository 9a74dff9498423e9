"""``evenhand heights``: calibrate loudness as height, and say what strokes a take's hits were."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.acts.takes.request import TakeRequest
from evenhand.cli.inputs import hearing, read_text
from evenhand.cli.options import (
    ClickOption,
    ExerciseOption,
    JsonOption,
    MidiNotesOption,
    PictureOption,
    TempoOption,
    UnitOption,
    finite,
    midi_notes_of,
)
from evenhand.cli.results import check_places, give, group_help, shown
from evenhand.errors import BadDocument, WrongOptions
from evenhand.music.strokes.heights import COMMON_HEIGHTS, HeightRange, StrokeHeights

if TYPE_CHECKING:
    from evenhand.progress.heights import HeightCalibration


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
    from evenhand.acts.takes.calibration import calibration_text
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
        from evenhand.acts.takes.calibration import read_calibration, said_text
        from evenhand.acts.takes.heights import say_heights
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
