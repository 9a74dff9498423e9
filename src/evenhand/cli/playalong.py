"""``evenhand playalong``: the exercise played, with a click."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

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
from evenhand.errors import WrongOptions

if TYPE_CHECKING:  # these bring numpy, which the help need not wait for
    from evenhand.application.write_playalong import PlayalongWanted, PlayalongWritten
    from evenhand.domain.book import Entry

ExerciseOption = Annotated[
    str | None, typer.Option("--exercise", metavar="TEXT", help="What is played, such as '1/8: RLRR LRLL'.")
]
BookOption = Annotated[
    list[Path] | None,
    typer.Option(
        "--book",
        metavar="FILE",
        exists=True,
        help="A book of exercises, one after the other; may be given more than once.",
    ),
]
RepeatOption = Annotated[
    int,
    typer.Option(
        "--repetitions", "--repeat", metavar="N", min=1, max=1000, help="Repetitions of each exercise."
    ),
]
PlayedOption = Annotated[
    str,
    typer.Option("--played", metavar="LEVEL", help="The exercise: soft, loud, off, or dB over the click."),
]
ClickOption = Annotated[
    Literal["on", "count-in", "off"], typer.Option("--click", help="Where the click sounds.")
]
EveryOption = Annotated[
    int | None,
    typer.Option("--every", metavar="N", min=1, help="With --step: repetitions from step to step."),
]
HandsApartOption = Annotated[
    bool, typer.Option("--hands-apart", help="The right hand to the right, the left to the left.")
]


def playalong(
    tempo: NeededTempoOption,
    out: SoundOutOption,
    exercise: ExerciseOption = None,
    book: BookOption = None,
    repeat: RepeatOption = 8,
    played: PlayedOption = "soft",
    click: ClickOption = "on",
    count_in: CountInOption = 1,
    step: StepOption = None,
    every: EveryOption = None,
    to: ToOption = None,
    silent: SilentOption = None,
    ear: EarOption = "both",
    hands_apart: HandsApartOption = False,  # noqa: FBT002 - a switch
    lead_in: LeadInOption = "0",
    rate: RateOption = "48000",
    json: TimetableOption = None,
) -> None:
    """Write a play-along: the exercise and a click.

    It is played exactly as written. Each stroke is as loud as the height it is played from makes it. A
    book's exercises follow each other with a bar of clicks between.
    """
    from evenhand.application.sound_out import read_change, read_lead_in
    from evenhand.application.write_playalong import PlayalongWanted, read_played, write_playalong
    from evenhand.domain.tempo import Tempo
    from evenhand.sound.playalong_track import Mixing
    from evenhand.sound.pulse import ALL_HEARD, parse_silence

    wanted = PlayalongWanted(
        entries=_entries(exercise, book),
        tempo=Tempo.parse(tempo),
        repetitions=repeat,
        count_in=count_in,
        change=read_change(step, every, to),
        silence=ALL_HEARD if silent is None else parse_silence(silent),
        click=click,
        mixing=Mixing(read_played(played), ear, hands_apart),
        lead_in_s=read_lead_in(lead_in),
    )
    done = write_playalong(wanted, open_out(out, rate, json, reads=book or ()))
    if give_timetable(json, done.written):
        _say(out, wanted, done, manner_of(step, every, "repetition"))


def _entries(exercise: str | None, books: list[Path] | None) -> Sequence[Entry]:
    """Read what is to be played."""
    if (exercise is None) == (not books):
        raise WrongOptions(
            got="both --exercise and --book" if books else "no exercise",
            must_be="one of --exercise TEXT and --book FILE",
        )
    if exercise is None:
        from evenhand.application.keep_book import read_books

        return read_books(books or []).entries
    from evenhand.craft.text import parse_exercise
    from evenhand.domain.book import Entry

    return (Entry(parse_exercise(exercise)),)


def _say(out: Path, wanted: PlayalongWanted, done: PlayalongWritten, manner: str) -> None:
    """Say what was written, in a few quiet lines."""
    played = f"{many(done.exercises, 'exercise')}, {many(wanted.repetitions, 'repetition')}"
    strokes = many(done.strokes, "stroke") if done.strokes else "the click alone"
    typer.echo(f"{out}: {length_of(done.written.seconds)}, {played}, {strokes}")
    typer.echo(f"  tempo {tempos_of(done.tempos, manner)}; {loudness_of(done.written)}")
    typer.echo(f"  {CAUTION}")
