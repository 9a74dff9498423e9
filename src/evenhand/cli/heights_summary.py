"""Loudness as height in the terminal."""

from __future__ import annotations

from pathlib import Path

from rich.console import Group, RenderableType
from rich.text import Text

from evenhand.cli.plain_summary import figures_table, say_parts
from evenhand.domain.cautions import PLAYING_CAUTION
from evenhand.domain.height_scale import HeightCalibration, SaidHeights
from evenhand.pages.heights_words import (
    PHYSICS_NOTE,
    SAID_HEADS,
    SCALE_HEADS,
    calibration_words,
    said_rows,
    said_words,
    scale_cells,
)


def say_calibration(calibration: HeightCalibration, out: Path) -> None:
    """Print what a calibration gives."""
    rows = [scale_cells(of, scale) for of, scale in calibration.scales.items()]
    parts: list[RenderableType] = ["", Text(calibration_words(calibration), style="bold"), ""]
    parts += [Text(f"! {warning}") for warning in calibration.warnings]
    parts += [figures_table(SCALE_HEADS, rows), "", Text(PHYSICS_NOTE, style="dim")]
    parts += [
        Text("Leave pad, microphone and gain as they are.", style="dim"),
        Text(f"The calibration is in {out}"),
        Text(PLAYING_CAUTION, style="dim"),
        "",
    ]
    say_parts(Group(*parts))


def say_said(said: SaidHeights) -> None:
    """Print what was said of a take."""
    parts: list[RenderableType] = ["", Text(said_words(said), style="bold"), ""]
    parts += [Text(f"! {warning}") for warning in said.warnings]
    if said.strokes:
        parts += [figures_table(SAID_HEADS, said_rows(said)), ""]
    parts += [Text(PLAYING_CAUTION, style="dim"), ""]
    say_parts(Group(*parts))
