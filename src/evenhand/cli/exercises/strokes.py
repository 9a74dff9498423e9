"""``evenhand strokes``: plan each note's stroke, and the height that a free rebound allows."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.cli.options import ExerciseOption, JsonOption, TempoOption, UnitOption, finite
from evenhand.cli.results import check_places, give
from evenhand.music.strokes.heights import StrokeClass, Unit

if TYPE_CHECKING:
    from evenhand.acts.exercises.strokes import PlannedExercise


StrokeOption = Annotated[
    StrokeClass | None,
    typer.Option(
        "--stroke", help="The class to play from, full if not given; with accents it is the accents' class."
    ),
]
HeightsOption = Annotated[
    str,
    typer.Option(
        "--heights", metavar="RANGES", help="Your own heights in that unit, such as 'tap=2-4 half=5-8'."
    ),
]
RestitutionOption = Annotated[
    float | None,
    typer.Option(
        "--restitution",
        metavar="E",
        min=0.05,
        max=1.0,
        callback=finite,
        help="Speed after a bounce as a share of the speed before it; evenhand bounce measures it.",
    ),
]
ChartOption = Annotated[
    Path | None,
    typer.Option("--chart", metavar="FILE.svg", help="Draw the greatest free height against tempo."),
]


def strokes(
    exercise: ExerciseOption = None,
    tempo: TempoOption = None,
    stroke: StrokeOption = None,
    unit: UnitOption = "in",
    heights: HeightsOption = "",
    restitution: RestitutionOption = None,
    chart: ChartOption = None,
    json: JsonOption = None,
) -> None:
    """Plan each note's stroke: full, down, tap or up.

    Says from which height it comes and to which it goes, how high a stick rises and falls by itself at this
    tempo, what takes force, and where doubles become one throw and its bounce. Heights and stroke classes
    are common practice; docs/strokes.md has the physics.
    """
    check_places(json, chart)
    planned = _plan(exercise, tempo, stroke, unit, heights, restitution)
    from evenhand.acts.exercises.strokes import strokes_json

    if give((chart, lambda: _drawn(planned)), (json, lambda: strokes_json(planned))):
        from evenhand.cli.tables.exercises import say_strokes

        say_strokes(planned, chart=chart)


def _drawn(planned: PlannedExercise) -> str:
    from evenhand.acts.exercises.strokes import height_chart
    from evenhand.report.plots.reach import draw_heights

    return draw_heights(height_chart(planned))


def _plan(
    exercise: str | None,
    tempo: str | None,
    stroke: StrokeClass | None,
    unit: Unit,
    heights: str,
    restitution: float | None,
) -> PlannedExercise:
    """Plan with what was wished."""
    from evenhand.acts.exercises.strokes import StrokeOptions, plan_exercise, read_asked, read_heights
    from evenhand.music.strokes.rebound import ASSUMED_RESTITUTION

    asked = read_asked(exercise, tempo)
    given_back = ASSUMED_RESTITUTION if restitution is None else restitution
    return plan_exercise(asked, StrokeOptions(stroke, read_heights(heights, unit), given_back, unit))
