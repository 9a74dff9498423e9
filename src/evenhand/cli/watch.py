"""``evenhand watch`` hears a video and watches its sticks; ``evenhand lifting`` fits it to one player."""

from __future__ import annotations

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
    PatternOption,
    ReportOption,
    TempoOption,
    finite,
    hearing,
)
from evenhand.cli.results import check_places, give, write

if TYPE_CHECKING:
    from evenhand.acts.takes.watch import WatchRequest
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


StripOption = Annotated[
    int | None,
    typer.Option("--strip", metavar="N", help="Show frames around the N-th stroke, the tip's path drawn."),
]
StripOutOption = Annotated[
    Path, typer.Option("--strip-out", metavar="FILE.svg", help="Where the frames of --strip go.")
]
MarkedOption = Annotated[
    Path | None,
    typer.Option(
        "--marked",
        metavar="FILE.webm",
        help="Write the video at half speed, the tips' paths drawn, no sound.",
    ),
]
SheetOption = Annotated[
    Path | None,
    typer.Option(
        "--label-sheet", metavar="FILE.html", help="Write a sheet to label this video's strokes on by eye."
    ),
]
LiftingOption = Annotated[
    Path | None,
    typer.Option(
        "--lifting",
        metavar="FILE.json",
        exists=True,
        dir_okay=False,
        help="What evenhand lifting found of this player.",
    ),
]


def watch(
    video: VideoArgument,
    exercise: ExerciseOption = None,
    tempo: TempoOption = None,
    tape: TapeOption = "auto",
    pad_cm: PadOption = None,
    stick_cm: StickOption = None,
    stroke: StrokeOption = None,
    lifting: LiftingOption = None,
    click: ClickOption = "auto",
    pattern: PatternOption = "",
    begins_at: BeginsAtOption = None,
    json: JsonOption = None,
    report: ReportOption = None,
    strip: StripOption = None,
    strip_out: StripOutOption = Path("strip.svg"),
    marked: MarkedOption = None,
    label_sheet: SheetOption = None,
) -> None:
    """Hear a video and watch its sticks, their heights and rises.

    Whether a stick rebounds or is lifted is an experimental answer. docs/watching.md says how to film.
    """
    from evenhand.acts.takes.lifting import read_lifting
    from evenhand.acts.takes.watch import WatchRequest, seen_json_text

    taken = TakeRequest.read(exercise, tempo, click, begins_at_s=begins_at, pattern=pattern)
    asked = WatchRequest.read(taken, tape, pad_cm=pad_cm, stick_cm=stick_cm, stroke=stroke)
    if lifting is not None:
        asked = replace(asked, lifting=read_lifting(lifting))
    check_places(
        json, report, None if strip is None else strip_out, marked, label_sheet, reads=(video, lifting)
    )
    seen = watched(video, asked)
    _show(video, seen, None if strip is None else (strip, strip_out), marked, label_sheet)
    if give((json, lambda: seen_json_text(seen)), (report, lambda: report_of(seen))):
        from evenhand.cli.tables.watch import say_seen

        say_seen(seen, report=report)


def _show(
    video: Path, seen: SeenTake, strip: tuple[int, Path] | None, marked: Path | None, sheet: Path | None
) -> None:
    """Write what shows the video's frames: those around a stroke, all of them marked, those to label."""
    if strip is None and marked is None and sheet is None:
        return
    from evenhand.acts.takes.labels import sheet_of
    from evenhand.acts.takes.strip import strip_of, write_marked
    from evenhand.media.film.reader import FilmReader

    shows = FilmReader()
    if strip is not None:
        number, out = strip
        write(out, strip_of(video, seen, number, shows=shows))
    if marked is not None:
        write_marked(video, seen, marked, shows=shows)
    if sheet is not None:
        write(sheet, sheet_of(video, seen, shows=shows))


def watched(video: Path, asked: WatchRequest) -> SeenTake:
    """Watch one video, and show how much of it is done."""
    with hearing(video) as progress:
        from evenhand.acts.takes.watch import watch_take
        from evenhand.media.film.reader import FilmReader
        from evenhand.media.open_take import open_take

        return watch_take(video, asked, opens=open_take, films=FilmReader(), progress=progress)


FreeArgument = Annotated[
    Path, typer.Argument(metavar="FREE", exists=True, dir_okay=False, help="20 strokes that rebound freely.")
]
LiftedArgument = Annotated[
    Path, typer.Argument(metavar="LIFTED", exists=True, dir_okay=False, help="20 strokes that are lifted.")
]
LiftingOutOption = Annotated[Path, typer.Option("--out", metavar="FILE.json", help="Where it is kept.")]


def lifting(
    free: FreeArgument,
    lifted: LiftedArgument,
    out: LiftingOutOption,
    tape: TapeOption = "auto",
    pad_cm: PadOption = None,
    stick_cm: StickOption = None,
) -> None:
    """Fit the answer about lifted sticks to one player.

    Two videos of the same player and set-up: 20 single strokes that are left to rebound, and 20 that are
    lifted on purpose. The answer stays experimental.
    """
    from evenhand.acts.takes.lifting import fit_lifting, lifting_text
    from evenhand.acts.takes.watch import WatchRequest
    from evenhand.report.words.watching import lifting_words

    asked = WatchRequest.read(TakeRequest(), tape, pad_cm=pad_cm, stick_cm=stick_cm)
    check_places(out, reads=(free, lifted))
    scale = fit_lifting(watched(free, asked), watched(lifted, asked))
    if give((out, lambda: lifting_text(scale))):
        typer.echo(lifting_words(scale))


LabelFiles = Annotated[
    list[Path],
    typer.Argument(
        metavar="FILE.json",
        exists=True,
        dir_okay=False,
        help="Labels that were saved, and what watch --json wrote.",
    ),
]


def labels(files: LabelFiles) -> None:
    """Compare strokes labelled by eye with what was seen.

    Labels are saved from a sheet that watch --label-sheet writes; docs/watching.md has the protocol.
    """
    from evenhand.acts.takes.labels import compare_labels
    from evenhand.report.words.watching import labels_words

    for line in labels_words(compare_labels(files)):
        typer.echo(line)


def report_of(seen: SeenTake) -> str:
    """Write the report of a take that was watched."""
    from evenhand.report.take.watched import watched_text

    return watched_text(seen)
