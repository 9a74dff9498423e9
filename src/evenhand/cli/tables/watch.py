"""What was seen, in the terminal: what to change about the filming, each hand in a sentence, its figures."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from rich.table import Table

from evenhand.cli.tables.figures import blocks, plain_lines, quiet, readable_console, warned, where_it_is
from evenhand.cli.tables.take import summary
from evenhand.measuring.seen import SeenTake
from evenhand.measuring.values import Measure
from evenhand.music.exercise import HAND_NAMES, HANDS
from evenhand.music.strokes.heights import STROKE_CLASSES
from evenhand.report.words.figures import count, interval_words, listed, plain
from evenhand.report.words.tests import PLURALS
from evenhand.report.words.watching import EXPERIMENT, LIMITS, PRIVATE, seen_sentences, warning_words


def say_seen(take: SeenTake, *, report: Path | None = None) -> None:
    """Print on stdout what was heard, and what was seen."""
    console = readable_console()
    console.print(summary(take.heard, width=console.width))
    console.print(
        blocks(
            quiet(_film(take)),
            warned(warning_words(warning) for warning in take.watched.warnings),
            plain_lines(seen_sentences(take)),
            [_strokes(take)] if take.hands else [],
            plain_lines([_balance(take.balance_cm)]) if take.balance_cm.value is not None else [],
            where_it_is("report", report),
            quiet(EXPERIMENT, LIMITS, PRIVATE),
        )
    )


def _film(take: SeenTake) -> str:
    """Say what was watched, and in how many strokes a hand was seen."""
    film, strokes = take.film, take.watched.strokes
    hands = sum(stroke.hand is not None for stroke in strokes)
    tapes = listed([f"{colour} ({HAND_NAMES[hand]})" for hand, colour in take.watched.tapes.items()])
    size = f"{film.width_px} by {film.height_px} px, {film.fps:.0f} frames a second"
    return f"watched: {size}; tape: {tapes}; the hand was seen in {hands} of {count(len(strokes), 'stroke')}"


def _strokes(take: SeenTake) -> Table:
    """Count each hand's classes and rises."""
    table = Table(box=None, padding=(0, 2, 0, 0), header_style="dim")
    for head in ("hand", *(PLURALS[stroke] for stroke in STROKE_CLASSES), "free", "unsure", "lifted"):
        table.add_column(head, justify="left" if head == "hand" else "right")
    for row in _rows(take):
        table.add_row(*row)
    return table


def _rows(take: SeenTake) -> Iterator[tuple[str, ...]]:
    for hand in HANDS:
        own = [stroke for stroke in take.watched.strokes if stroke.hand == hand]
        if own:
            kinds = [sum(stroke.stroke == kind for stroke in own) for kind in STROKE_CLASSES]
            rises = [sum(stroke.rise == kind for stroke in own) for kind in ("free", "unsure", "lifted")]
            yield HAND_NAMES[hand], *(str(n) for n in (*kinds, *rises))


def _balance(figure: Measure) -> str:
    way = "higher" if (figure.value or 0.0) >= 0 else "lower"
    size = plain(abs(figure.value or 0.0), 1)
    return f"Right {way} than left by {size} cm (95 % range {interval_words(figure.ci95)}, right minus left)."
