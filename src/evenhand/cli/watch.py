"""``evenhand watch`` hears a video and watches its sticks."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.acts.takes.request import TakeRequest
from evenhand.cli.options import (
    BeginsAtOption,
    ClickOption,
    ExerciseOption,
    JsonOption,
    PatternOption,
    ReportOption,
    TempoOption,
    finite,
    hearing,
)
from evenhand.cli.results import check_places, give

if TYPE_CHECKING:
    from evenhand.measuring.seen import SeenTake

VideoArgument = Annotated[
    Path,
    typer.Argument(
        metavar="VIDEO", exists=True, dir_okay=False, help="A phone's video with its sound, from the side."
    ),
]
TapeOption = Annotated[
    str,
    typer.Option(
        "--tape",
        metavar="COLOURS",
        help="The tape on each stick, such as R=blue,L=green; auto finds two colours by itself.",
    ),
]
PadOption = Annotated[
    float | None,
    typer.Option(
        "--pad-cm", metavar="CM", callback=finite, help="How wide the pad is: heights are measured by it."
    ),
]
StickOption = Annotated[
    float | None,
    typer.Option(
        "--stick-cm", metavar="CM", callback=finite, help="How long the sticks are; 40.6 if not given."
    ),
]
StrokeOption = Annotated[
    str | None,
    typer.Option("--stroke", metavar="CLASS", help="What was to be played from: tap, half or full."),
]


def watch(
    video: VideoArgument,
    exercise: ExerciseOption = None,
    tempo: TempoOption = None,
    tape: TapeOption = "auto",
    pad_cm: PadOption = None,
    stick_cm: StickOption = None,
    stroke: StrokeOption = None,
    click: ClickOption = "auto",
    pattern: PatternOption = "",
    begins_at: BeginsAtOption = None,
    json: JsonOption = None,
    report: ReportOption = None,
) -> None:
    """Hear a video and watch its sticks, their heights and rises.

    Whether a stick rebounds or is lifted is an experimental answer. docs/watching.md says how to film.
    """
    from evenhand.acts.takes.watch import WatchRequest, seen_json_text, watch_take

    taken = TakeRequest.read(exercise, tempo, click, begins_at_s=begins_at, pattern=pattern)
    asked = WatchRequest.read(taken, tape, pad_cm=pad_cm, stick_cm=stick_cm, stroke=stroke)
    check_places(json, report, reads=(video,))
    with hearing(video) as progress:
        from evenhand.media.film.reader import FilmReader
        from evenhand.media.open_take import open_take

        seen = watch_take(video, asked, opens=open_take, films=FilmReader(), progress=progress)
    if give((json, lambda: seen_json_text(seen)), (report, lambda: report_of(seen))):
        from evenhand.cli.tables.watch import say_seen

        say_seen(seen, report=report)


def report_of(seen: SeenTake) -> str:
    """Write the report of a take that was watched."""
    from evenhand.report.take.watched import watched_text

    return watched_text(seen)
