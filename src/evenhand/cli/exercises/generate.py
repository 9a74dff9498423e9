"""``evenhand exercises generate``: stickings by their properties."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.cli.options import BookOutOption, JsonOption, JudgedTempoOption, SeedOption, WeakHandOption
from evenhand.cli.results import check_places, give, say_line
from evenhand.report.words.figures import EXERCISES_CAUTION, count

if TYPE_CHECKING:
    from evenhand.acts.exercises.generate import Generated


Hand = Literal["R", "L"]
UpTo = Literal["none", "swap", "rotation", "rotation-reversal", "rotation-swap"]

SHOWN = 40  # in a terminal; files and pipes get all

LengthOption = Annotated[int, typer.Option("--length", metavar="N", help="Notes in each, 1 to 24.")]
ValueOption = Annotated[str, typer.Option("--value", metavar="VALUE", help="Their note value.")]
MeterOption = Annotated[
    str | None, typer.Option("--meter", metavar="METER", help="A meter to write before each, such as 4/4.")
]
RunOption = Annotated[
    int | None,
    typer.Option("--longest-run", metavar="K", min=1, help="No hand plays more than K in a row."),
]
AroundOption = Annotated[
    bool, typer.Option("--around", help="Count runs and pairs around the repeat as well.")
]
BalancedOption = Annotated[bool, typer.Option("--balanced", help="As many rights as lefts.")]
LeadOption = Annotated[Hand | None, typer.Option("--lead", help="Which hand plays the first note.")]
EndsOption = Annotated[
    Literal["leading", "other"] | None,
    typer.Option(
        "--ends",
        help="Which hand plays the last note: the one that leads (hand to hand, the repeat would then lead "
        "with the other) or the other.",
    ),
]
MirroredOption = Annotated[
    bool,
    typer.Option(
        "--mirrored",
        help="The second half is the first with the hands swapped: the phrase leads with the other hand "
        "when it comes again.",
    ),
]
PairsOption = Annotated[
    str | None,
    typer.Option(
        "--pairs", metavar="SPAN", help="How many neighbours are by one hand: 4, 2-4 or 3+. RRR has two."
    ),
]
RightsOption = Annotated[
    str | None, typer.Option("--rights", metavar="SPAN", help="How many notes are rights: 4, 2-4 or 3+.")
]
ShareOption = Annotated[
    str | None,
    typer.Option("--weak-share", metavar="SPAN", help="The weak hand's share of the notes in %: 50-75, 60+."),
]
AccentsOption = Annotated[
    int | None, typer.Option("--accents", metavar="K", min=0, help="K accents, placed in every way.")
]
AccentOnOption = Annotated[
    str | None, typer.Option("--accent-on", metavar="NOTES", help="Accents on these notes, such as 1,5.")
]
UpToOption = Annotated[UpTo, typer.Option("--up-to", help="What counts as the same exercise.")]
SortOption = Annotated[
    Literal["written", "easy", "random"],
    typer.Option("--sort", help="R before L, easy to hard, or shuffled by --seed."),
]
LimitOption = Annotated[
    int | None, typer.Option("--limit", metavar="N", min=0, help="List the first N only.")
]
PickOption = Annotated[
    int | None, typer.Option("--pick", metavar="N", min=1, help="Take N of them at random.")
]


def generate(
    length: LengthOption,
    value: ValueOption = "1/16",
    meter: MeterOption = None,
    longest_run: RunOption = None,
    around: AroundOption = False,  # noqa: FBT002 - a switch
    balanced: BalancedOption = False,  # noqa: FBT002 - a switch
    lead: LeadOption = None,
    ends: EndsOption = None,
    mirrored: MirroredOption = False,  # noqa: FBT002 - a switch
    pairs: PairsOption = None,
    rights: RightsOption = None,
    weak_share: ShareOption = None,
    weak_hand: WeakHandOption = "L",
    accents: AccentsOption = None,
    accent_on: AccentOnOption = None,
    up_to: UpToOption = "none",
    sort: SortOption = "written",
    tempo: JudgedTempoOption = "1/4=90",
    limit: LimitOption = None,
    pick: PickOption = None,
    seed: SeedOption = 0,
    json: JsonOption = None,
    out: BookOutOption = None,
) -> None:
    """Generate stickings by their properties.

    Where there are none, it says why. docs/choosing.md says what each property means.
    """
    check_places(json, out)
    from evenhand.acts.exercises.generate import Options, generate_exercises

    options = Options(
        length=length,
        value=value,
        meter=meter,
        longest_run=longest_run,
        around=around,
        balanced=balanced,
        lead=lead,
        ends=ends,
        mirrored=mirrored,
        pairs=pairs,
        rights=rights,
        weak_share=weak_share,
        weak_hand=weak_hand,
        accents=accents,
        accent_on=accent_on,
        up_to=up_to,
        sort=sort,
        tempo=tempo,
        limit=limit,
        pick=pick,
        seed=seed,
    )
    generated = generate_exercises(options)
    _give(generated, json, out)


def _give(generated: Generated, json: Path | None, out: Path | None) -> None:
    """Write what was asked for, and say the rest."""
    if generated.why is not None:
        say_line(generated.why)
    book = out if generated.texts else None
    if not give((json, lambda: generated.json), (book, lambda: generated.book)):
        return
    if generated.count:
        typer.echo(_headline(generated, out))
    if json is None and out is None:
        _show(generated)
    if generated.count:
        typer.echo(f"\n{EXERCISES_CAUTION}")


def _headline(generated: Generated, out: Path | None) -> str:
    """Say how many there are, of what, and where they lie."""
    listed = f", {len(generated.texts):,} of them listed" if generated.is_cut else ""
    return f"{count(generated.count, 'exercise')} of {generated.asked}{listed}{f'; in {out}' if out else ''}"


def _show(generated: Generated) -> None:
    """List the first of them, each with its rank's reason where they are sorted."""
    for place, text in enumerate(generated.texts[:SHOWN]):
        rank = f"   {generated.ranks[place]}" if generated.ranks else ""
        typer.echo(f"  {text}{rank}")
    more = len(generated.texts) - SHOWN
    if more > 0:
        typer.echo(f"  and {more:,} more: --out BOOK.txt or --json FILE has all")
