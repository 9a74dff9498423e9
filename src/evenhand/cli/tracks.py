"""``evenhand click``: a click to play to; ``evenhand playalong``: the exercise played, with a click."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.cli.options import (
    BookOption,
    ExerciseOption,
    JsonOption,
    NeededTempoOption,
    PatternOption,
    TempoOption,
    finite,
)
from evenhand.cli.results import check_places, give, shown
from evenhand.errors import WrongOptions
from evenhand.report.words.figures import CLICK_CAUTION, PAIN, count, duration

if TYPE_CHECKING:
    from evenhand.acts.exercises.tracks import Written
    from evenhand.acts.weeks.session import SessionAsked
    from evenhand.music.book import Entry
    from evenhand.music.click_pattern import ClickPattern
    from evenhand.music.exercise import Tempo
    from evenhand.synthesis.click import ClickAsked


SoundOutOption = Annotated[
    Path,
    typer.Option("--out", metavar="FILE", help="Where the sound goes: .wav, .flac, .ogg or .mp3."),
]
CountInOption = Annotated[
    int, typer.Option("--count-in", metavar="BARS", min=0, max=16, help="Bars of clicks before it begins.")
]
LeadInOption = Annotated[
    str, typer.Option("--lead-in", metavar="SECONDS", help="Silence before the first click.")
]
StepOption = Annotated[
    str | None,
    typer.Option("--step", metavar="BPM", help="Change the tempo by so many beats a minute at a time."),
]
ToOption = Annotated[
    str | None,
    typer.Option(
        "--to", metavar="TEMPO", help="Change evenly up to this tempo; with --step, where the steps end."
    ),
]
SilentOption = Annotated[
    str | None,
    typer.Option("--silent", metavar="HEARD:SILENT", help="Bars heard and bars silent in turn, such as 2:2."),
]
EarOption = Annotated[
    Literal["both", "left", "right"], typer.Option("--ear", help="Which ear the click is in.")
]
RateOption = Annotated[
    Literal["44100", "48000", "96000"], typer.Option("--rate", help="Samples a second; mp3 up to 48000.")
]
BarsOption = Annotated[
    int, typer.Option("--bars", metavar="N", min=1, max=100_000, help="Bars after the count-in.")
]
MeterOption = Annotated[str, typer.Option("--meter", metavar="METER", help="Such as 4/4 or 6/8.")]
SubdivideOption = Annotated[
    Literal["1", "2", "3", "4"],
    typer.Option("--subdivide", help="Parts of a beat: softer clicks between."),
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
    pattern: PatternOption = "",
    ear: EarOption = "both",
    lead_in: LeadInOption = "0",
    peak: PeakOption = -6.0,
    rate: RateOption = "48000",
    json: JsonOption = None,
) -> None:
    """Write a click to play to.

    The first click is the file's first sample, and every click stands on the sample nearest to its time.
    """
    from evenhand.acts.documents import json_of
    from evenhand.acts.exercises.tracks import read_change, read_lead_in, write_click
    from evenhand.music.exercise import Tempo
    from evenhand.synthesis.click import ClickAsked
    from evenhand.synthesis.pulse import parse_meter

    asked = ClickAsked(
        tempo=Tempo.parse(tempo),
        meter=parse_meter(meter),
        bars=bars,
        count_in=count_in,
        change=read_change(step, every, to),
        pattern=_pattern(pattern, silent, subdivide, accent=accent),
    )
    lead_in_s = read_lead_in(lead_in)
    rate_hz = _check_out(out, rate, json)
    written = write_click(asked, out, rate_hz, lead_in_s=lead_in_s, ear=ear, peak_dbtp=peak)
    if give((json, lambda: json_of(written.timetable))):
        _say(out, _bars(asked), written, _manner(step, every, "bar"))


def _pattern(text: str, silent: str | None, subdivide: str = "1", *, accent: bool = True) -> ClickPattern:
    """Read the pattern, and what was said of it by options of their own."""
    from evenhand.music.click_pattern import ClickPattern

    more = [f"silent={silent}"] * (silent is not None) + [f"between={subdivide}"] * (subdivide != "1")
    return ClickPattern.parse(" ".join([text, *more, *["plain"] * (not accent)]))


def _say(out: Path, what: str, written: Written, manner: str) -> None:
    """Say what was written, in a few quiet lines."""
    typer.echo(f"{out}: {duration(written.seconds)}, {what}")
    typer.echo(f"  tempo {_tempos(written.tempos, manner)}; {_loudness(written)}")
    typer.echo(f"  {PAIN} {CLICK_CAUTION}")


def _bars(asked: ClickAsked) -> str:
    """Say how many bars there are, and how many are silent."""
    counted = f"{count(asked.count_in, 'bar')} to count in, " if asked.count_in else ""
    bars = f"{count(asked.bars, 'bar')} of {asked.meter}"
    silent = sum(asked.pattern.level_db(bar) is None for bar in range(asked.bars))
    return f"{counted}{bars}{f', {silent} of them silent' if silent else ''}"


RepeatOption = Annotated[
    int,
    typer.Option(
        "--repetitions", "--repeat", metavar="N", min=1, max=1000, help="Repetitions of each exercise."
    ),
]
PlayedOption = Annotated[
    str,
    typer.Option(
        "--played", metavar="LEVEL", help="The exercise: soft, even, loud, off, or dB over the click."
    ),
]
ClickOption = Annotated[
    Literal["on", "count-in", "off"], typer.Option("--click", help="Where the click sounds.")
]
PlayEveryOption = Annotated[
    int | None,
    typer.Option("--every", metavar="N", min=1, help="With --step: repetitions from step to step."),
]
HandsApartOption = Annotated[
    bool, typer.Option("--hands-apart", help="The right hand to the right, the left to the left.")
]

GrooveOption = Annotated[
    bool, typer.Option("--groove", help="A quiet groove under it: low drum, soft tone, brush.")
]


PlanOption = Annotated[
    Path | None,
    typer.Option("--plan", metavar="FILE", help="A week's plan, of which a day is written."),
]
DayOption = Annotated[int | None, typer.Option("--day", metavar="N", min=1, help="With --plan: which day.")]
SpeakOption = Annotated[
    bool, typer.Option("--speak/--no-speak", help="With --plan: whether what comes next is spoken.")
]


def playalong(
    out: SoundOutOption,
    tempo: TempoOption = None,
    exercise: ExerciseOption = None,
    book: BookOption = None,
    plan: PlanOption = None,
    day: DayOption = None,
    repeat: RepeatOption = 8,
    played: PlayedOption = "even",
    click: ClickOption = "on",
    count_in: CountInOption = 1,
    step: StepOption = None,
    every: PlayEveryOption = None,
    to: ToOption = None,
    silent: SilentOption = None,
    pattern: PatternOption = "",
    ear: EarOption = "both",
    hands_apart: HandsApartOption = False,  # noqa: FBT002 - a switch
    groove: GrooveOption = False,  # noqa: FBT002 - a switch
    speak: SpeakOption = True,  # noqa: FBT002 - a switch
    lead_in: LeadInOption = "0",
    rate: RateOption = "48000",
    json: JsonOption = None,
) -> None:
    """Write a play-along: an exercise, or a day of a plan.

    It is played as written, each stroke as loud as its height says, and no two quite alike. A book's
    exercises follow each other with a bar of clicks between. A day of a plan says what comes next, counts
    in, plays, rests, and goes on.
    """
    from evenhand.acts.documents import json_of
    from evenhand.acts.exercises.tracks import (
        parts_of,
        read_change,
        read_lead_in,
        read_played,
        write_playalong,
    )
    from evenhand.acts.weeks.session import SessionAsked
    from evenhand.music.exercise import Tempo
    from evenhand.synthesis.playalong import Mixing, PlayalongAsked

    mixing, known = Mixing(read_played(played), ear, hands_apart, groove), _pattern(pattern, silent)
    if plan is not None:
        said_twice = [tempo, exercise, step, every, to] != [None] * 5 or book or (repeat, count_in) != (8, 1)
        if said_twice or lead_in != "0":
            got = "--plan with an exercise, a tempo or how often"
            raise WrongOptions(got=got, must_be="--plan alone: it says them itself")
        rate_hz = _check_out(out, rate, json, reads=(plan,))
        _write_day(plan, day, out, SessionAsked(mixing, click, known, rate_hz), json, speak=speak)
        return
    if day is not None:
        raise WrongOptions(got="--day without --plan", must_be="both")
    if tempo is None:
        raise WrongOptions(got="an exercise without a tempo", must_be="both, such as --tempo 1/8=70")
    entries = _entries(exercise, book)
    asked = PlayalongAsked(
        parts=parts_of(entries),
        tempo=Tempo.parse(tempo),
        repetitions=repeat,
        count_in=count_in,
        change=read_change(step, every, to),
        pattern=known,
        click=click,
    )
    rate_hz = _check_out(out, rate, json, reads=book or ())
    written = write_playalong(asked, mixing, out, rate_hz, lead_in_s=read_lead_in(lead_in))
    if give((json, lambda: json_of(written.timetable))):
        strokes = 0 if mixing.played_db is None else len(written.timetable["strokes"])
        played = count(strokes, "stroke") if strokes else "the click alone"
        what = f"{count(len(entries), 'exercise')}, {count(repeat, 'repetition')}, {played}"
        _say(out, what, written, _manner(step, every, "repetition"))


def _write_day(
    plan: Path, day: int | None, out: Path, asked: SessionAsked, json: Path | None, *, speak: bool
) -> None:
    """Write a day of a plan, and say how long it is and why it is longer than the day."""
    from evenhand.acts.documents import json_of
    from evenhand.acts.weeks.document import read_plan
    from evenhand.acts.weeks.session import day_of, write_session
    from evenhand.media.speech import speak as spoken

    chosen = day_of(read_plan(plan), day or 1)
    with shown(f"writing {out.name}") as progress:
        written = write_session(chosen, out, asked, spoken if speak else lambda _words, _hz: None, progress)
    if give((json, lambda: json_of(written.written.timetable))):
        typer.echo(f"{out}: {duration(written.written.seconds)}, {count(len(chosen.items), 'exercise')}")
        manner = "spoken" if written.spoken else "a chime, and time to read the sheet"
        told = f"{duration(written.announced_s)} that say what comes next: {manner}"
        typer.echo(f"  the day's {duration(written.day_s)}, and {told}")
        if speak and not written.spoken:
            typer.echo(f"  {NO_SPEECH}")
        typer.echo(f"  {_loudness(written.written)}")
        typer.echo(f"  {PAIN} {CLICK_CAUTION}")


NO_SPEECH = "This machine has no program that speaks; eSpeak NG is one (docs/click.md)."


def _entries(exercise: str | None, books: list[Path] | None) -> Sequence[Entry]:
    """Read what is to be played."""
    if (exercise is None) == (not books):
        raise WrongOptions(
            got="both --exercise and --book" if books else "no exercise",
            must_be="one of --exercise TEXT and --book FILE",
        )
    if exercise is None:
        from evenhand.acts.exercises.books import read_books

        return read_books(books or []).entries
    from evenhand.music.book import Entry
    from evenhand.music.text import parse_exercise

    return (Entry(parse_exercise(exercise)),)


def _check_out(path: Path, rate: str, json: Path | None, reads: Sequence[Path] = ()) -> int:
    """Check where things go, before the work is done; return the samples a second."""
    from evenhand.media.write import check_format

    check_places(path, json, reads=reads)
    check_format(path, int(rate))
    return int(rate)


def _tempos(tempos: tuple[Tempo, Tempo], manner: str) -> str:
    """Say how the tempo goes."""
    first, last = (f"{t.beat} = {t.bpm:.4g}" for t in tempos)
    return first if first == last else f"{first} to {last}, {manner}"


def _loudness(written: Written) -> str:
    """Say how loud it is."""
    lufs = (
        "too short for a loudness"
        if written.integrated_lufs is None
        else f"{written.integrated_lufs:.1f} LUFS"
    )
    return f"{lufs}, peak {written.true_peak_dbtp:.1f} dBTP"


def _manner(step: str | None, every: int | None, round_name: str) -> str:
    """Say in which way a tempo changes."""
    if step is None:
        return "evenly"
    rounds = round_name if (every or 1) == 1 else f"{every} {round_name}s"
    return f"by {step.lstrip('+')} every {rounds}"
