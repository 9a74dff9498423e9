"""``evenhand exercises choose``, ``cover`` and ``generate``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.cli.options import BookOutOption, JsonOption, JudgedTempoOption, SeedOption, WeakHandOption
from evenhand.cli.results import check_places, give, say_line
from evenhand.errors import WrongOptions
from evenhand.report.words.figures import EXERCISES_CAUTION, count
from evenhand.report.words.remarks import all_remarks

if TYPE_CHECKING:
    from evenhand.acts.exercises.choose import ChosenSet, Covered, Shares
    from evenhand.acts.exercises.generate import Generated
    from evenhand.music.book import Entry


BookArgument = Annotated[
    Path,
    typer.Argument(
        metavar="BOOK.txt", exists=True, help="A text file of one exercise a line, or a folder of them."
    ),
]
MoreTakesArgument = Annotated[
    list[Path] | None, typer.Argument(metavar="[TAKE.json]...", help="More takes, as a shell lists them.")
]
TakesOption = Annotated[
    list[Path] | None,
    typer.Option(
        "--takes", metavar="TAKE.json...", help="Takes that were heard, as evenhand listen --json wrote them."
    ),
]
CountOption = Annotated[int, typer.Option("--count", metavar="N", min=1, help="How many to choose, at most.")]


def choose(
    book: BookArgument,
    more_takes: MoreTakesArgument = None,
    takes: TakesOption = None,
    count: CountOption = 6,
    tempo: JudgedTempoOption = "1/4=90",
    weak_hand: WeakHandOption = "L",
    json: JsonOption = None,
    out: BookOutOption = None,
) -> None:
    """Choose exercises for what the last takes showed weak.

    They load what was weak, and come easy to hard.
    """
    heard = [*(takes or []), *(more_takes or [])]
    check_places(json, out, reads=(book, *heard))
    if not heard:
        raise WrongOptions(got="no takes", must_be="one or more, such as --takes heard/*.json")
    from evenhand.acts.exercises.books import read_books
    from evenhand.acts.exercises.choose import choose_exercises, read_takes
    from evenhand.music.exercise import Tempo

    chosen = choose_exercises(
        read_books([book]), read_takes(heard), Tempo.parse(tempo), count=count, weak_hand=weak_hand
    )
    if give((json, lambda: chosen.json), (out, lambda: chosen.book)):
        _say_chosen(chosen)


def _say_chosen(chosen: ChosenSet) -> None:
    for note in all_remarks(chosen.notes):
        typer.echo(note)
    for each in chosen.chosen:
        _say_one(each.entry, f"\n      {each.reason}")
    if chosen.chosen:
        from evenhand.report.words.exercises import NOT_WEIGHED

        typer.echo(f"\n{NOT_WEIGHED}\n{EXERCISES_CAUTION}")


ListArgument = Annotated[
    list[Path],
    typer.Argument(
        metavar="LIST.txt...",
        exists=True,
        help="Books: text files of one exercise a line, or folders of them.",
    ),
]
ChangesOption = Annotated[
    int,
    typer.Option(
        "--changes",
        metavar="K",
        help="How many notes in a row make a hand change, around the repeat: 2 to 16.",
    ),
]
TimeOption = Annotated[
    float,
    typer.Option("--time-limit", metavar="SECONDS", help="How long to look for fewer, or for a proof."),
]
HoldOption = Annotated[
    list[str] | None,
    typer.Option(
        "--hold",
        metavar="WHAT",
        help="Hold all accents, ornaments, rolls or lead of the list, too; may be given again.",
    ),
]
SharesOption = Annotated[
    bool,
    typer.Option("--show-shares", help="Show what the first few hold, the easiest few, and the best few."),
]


def cover(
    books: ListArgument,
    changes: ChangesOption,
    tempo: JudgedTempoOption = "1/4=90",
    weak_hand: WeakHandOption = "L",
    time_limit: TimeOption = 20.0,
    show_shares: SharesOption = False,  # noqa: FBT002 - a switch
    hold: HoldOption = None,
    json: JsonOption = None,
    out: BookOutOption = None,
) -> None:
    """Choose the fewest that hold all hand changes of a list.

    They come easy to hard. What else the list has, accents, ornaments, rolls and leads, is said, and held
    with --hold.
    """
    check_places(json, out, reads=books)
    from evenhand.acts.exercises.books import read_books
    from evenhand.acts.exercises.choose import cover_list
    from evenhand.music.exercise import Tempo

    covered = cover_list(
        read_books(books),
        changes,
        Tempo.parse(tempo),
        weak_hand=weak_hand,
        time_limit_s=time_limit,
        show_shares=show_shares,
        hold=hold or (),
    )
    if give((json, lambda: covered.json), (out if covered.chosen else None, lambda: covered.book)):
        _say_covered(covered)


def _say_covered(covered: Covered) -> None:
    typer.echo(_headline(covered))
    for entry, rank in zip(covered.chosen, covered.ranks, strict=True):
        _say_one(entry, f"   {rank}")
    if covered.shares is not None:
        _say_shares(covered.shares, covered.of)
    from evenhand.report.words.exercises import beside_words

    if covered.chosen and (said := beside_words(covered.beside)):
        typer.echo(f"\n{said}")
    if covered.chosen:
        typer.echo(f"\n{EXERCISES_CAUTION}")


def _headline(covered: Covered) -> str:
    from evenhand.report.words.exercises import covering_words

    needed = None if covered.optimal else covered.bound
    return covering_words(
        len(covered.chosen), covered.listed, changes=covered.of, notes=covered.changes, needed=needed
    )


def _say_one(entry: Entry, why: str) -> None:
    """Say one exercise, its title, and why it is among them or where."""
    from evenhand.music.text import print_exercise

    title = f"  {entry.title}" if entry.title else ""
    typer.echo(f"  {print_exercise(entry.exercise)}{title}{why}")


def _say_shares(shares: Shares, of: int) -> None:
    """Set out what few hold, row by row until all hold all."""
    typer.echo(f"\n  hand changes held, of {of}:")
    typer.echo(f"  {'exercises':>9}  {'first':>6}  {'easiest':>7}  {'one by one':>10}  {'best':>6}")
    for i, (first, easiest) in enumerate(zip(shares.first, shares.easiest, strict=True)):
        one_by_one = shares.greedy[min(i, len(shares.greedy) - 1)]
        best_i = min(i, len(shares.best) - 1)
        sure = " " if shares.proven[best_i] else "+"
        row = f"  {i + 1:>9}  {first:>6}  {easiest:>7}  {one_by_one:>10}  {shares.best[best_i]:>5}{sure}"
        typer.echo(row.rstrip())
        if first == easiest == one_by_one == of:
            break
    if not all(shares.proven):
        typer.echo("  + not proven: there may be a better choice of so many")


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
        typer.echo(_generate_headline(generated, out))
    if json is None and out is None:
        _show(generated)
    if generated.count:
        typer.echo(f"\n{EXERCISES_CAUTION}")


def _generate_headline(generated: Generated, out: Path | None) -> str:
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
