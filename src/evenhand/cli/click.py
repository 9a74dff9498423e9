"""``evenhand click``: write a click to play to."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.cli.options import finite
from evenhand.cli.sound_options import (
    CAUTION,
    CountInOption,
    EarOption,
    LeadInOption,
    NeededTempoOption,
    RateOption,
    SilentOption,
    SoundOutOption,
    StepOption,
    TimetableOption,
    ToOption,
    give_timetable,
    length_of,
    loudness_of,
    manner_of,
    many,
    open_out,
    tempos_of,
)

if TYPE_CHECKING:  # these bring numpy, which the help need not wait for
    from evenhand.application.write_click import ClickWanted, ClickWritten
    from evenhand.sound.click_track import ClickAsked

BarsOption = Annotated[
    int, typer.Option("--bars", metavar="N", min=1, max=100_000, help="Bars after the count-in.")
]
MeterOption = Annotated[str, typer.Option("--meter", metavar="METER", help="Such as 4/4 or 6/8.")]
SubdivideOption = Annotated[
    Literal["1", "2", "3", "4"],
    typer.Option("--subdivide", help="Parts of a beat: softer clicks between, for headphones."),
]
AccentOption = Annotated[
    bool, typer.Option("--accent/--no-accent", help="Whether the first beat of a bar sounds higher.")
]
EveryOption = Annotated[
    int | None, typer.Option("--every", metavar="BARS", min=1, help="With --step: bars from step to step.")
]
PeakOption = Annotated[
    float,
    typer.Option(
        "--peak", metavar="DBTP", min=-60, max=-1, callback=finite, help="The peak of the loudest click."
    ),
]


def click(
    tempo: NeededTempoOption,
    out: SoundOutOption,
    bars: BarsOption = 8,
    meter: MeterOption = "4/4",
    count_in: CountInOption = 1,
    subdivide: SubdivideOption = "1",
    accent: AccentOption = True,  # noqa: FBT002 - a switch
    step: StepOption = None,
    every: EveryOption = None,
    to: ToOption = None,
    silent: SilentOption = None,
    ear: EarOption = "both",
    lead_in: LeadInOption = "0",
    peak: PeakOption = -6.0,
    rate: RateOption = "48000",
    json: TimetableOption = None,
) -> None:
    """Write a click to play to.

    The first click is the file's first sample, and every click stands on the sample nearest to its time.
    """
    from evenhand.application.sound_out import read_change, read_lead_in
    from evenhand.application.write_click import ClickWanted, write_click
    from evenhand.domain.tempo import Tempo
    from evenhand.sound.click_track import ClickAsked
    from evenhand.sound.pulse import ALL_HEARD, parse_meter, parse_silence

    asked = ClickAsked(
        tempo=Tempo.parse(tempo),
        meter=parse_meter(meter),
        bars=bars,
        count_in=count_in,
        change=read_change(step, every, to),
        silence=ALL_HEARD if silent is None else parse_silence(silent),
        between=int(subdivide),
        accent=accent,
    )
    wanted = ClickWanted(asked, read_lead_in(lead_in), ear, peak)
    done = write_click(wanted, open_out(out, rate, json))
    if give_timetable(json, done.written):
        _say(out, wanted, done, manner_of(step, every, "bar"))


def _say(out: Path, wanted: ClickWanted, done: ClickWritten, manner: str) -> None:
    """Say what was written, in a few quiet lines."""
    typer.echo(f"{out}: {length_of(done.written.seconds)}, {_bars(wanted.asked)}")
    typer.echo(f"  tempo {tempos_of(done.tempos, manner)}; {loudness_of(done.written)}")
    typer.echo(f"  {CAUTION}")


def _bars(asked: ClickAsked) -> str:
    """Say how many bars there are, and how many are silent."""
    counted = f"{many(asked.count_in, 'bar')} to count in, " if asked.count_in else ""
    bars = f"{many(asked.bars, 'bar')} of {asked.meter}"
    silent = sum(asked.silence.kind(bar) == "silent" for bar in range(asked.bars))
    return f"{counted}{bars}{f', {silent} of them silent' if silent else ''}"
