"""The picture of a tempo ceiling: each repetition a stick at its tempo, and how control falls.

Conventions: px of the drawing's own units, tempo rising to the right. A repetition in
control stands upright on the upper line, another lies on the lower one.
"""

from __future__ import annotations

from collections.abc import Sequence

from evenhand.progress.ceiling.control import TempoCeiling
from evenhand.report.plots.charts import Axis, axis_over
from evenhand.report.plots.markup import el, picture, px, text_at
from evenhand.report.plots.shell import DARK, FAMILY, LIGHT
from evenhand.report.words.figures import capitalised
from evenhand.report.words.remarks import remark_words

WIDTH, HEIGHT = 640.0, 250.0
LEFT, RIGHT, TOP, BOTTOM = 92.0, 24.0, 46.0, 44.0
STICK_PX, LYING_PX = 15.0, 5.0
STYLE = (
    f"svg{{{LIGHT}}}@media screen and (prefers-color-scheme:dark){{svg{{{DARK}}}}}"
    f"text{{font:12px {FAMILY};fill:var(--quiet);font-variant-numeric:lining-nums tabular-nums}}"
    ".said{fill:var(--ink);font-size:14px}.n{text-anchor:end}.m{text-anchor:middle}"
    "path{fill:none;stroke-linecap:round;stroke-linejoin:round}"
    ".band{fill:var(--band)}.curve{stroke:var(--ink);stroke-width:1.6}"
    ".grid{stroke:var(--rule);stroke-width:.8}.well,.not{stroke:var(--ink);stroke-width:1.3;opacity:.55}"
    ".at{stroke:var(--ink);stroke-width:1.2;stroke-dasharray:2 3}.between{stroke:var(--ink);stroke-width:3}"
    ".paper{fill:var(--paper)}"
)


def ceiling_picture(found: TempoCeiling) -> str:
    """Draw a ceiling as one SVG document of its own, or the tries alone where it is not known."""
    said = ceiling_words(found)
    if not found.tried:
        inside = [text_at(LEFT, HEIGHT / 2, remark_words(found.why), class_="said")]
    else:
        axis = axis_over([point[0] for point in found.curve], least_range=20.0)
        inside = [
            _band(found, axis),
            _grid(axis),
            _curve(found, axis),
            _sticks(found, axis),
            _found(found, axis),
        ]
    paper = el("rect", width=WIDTH, height=HEIGHT, class_="paper")
    return picture(
        [el("style", STYLE), paper, *inside],
        width=WIDTH,
        height=HEIGHT,
        key="ceiling",
        title="Tempo ceiling",
        words=said,
        class_="ceiling",
    )


def ceiling_words(found: TempoCeiling) -> str:
    """Say the ceiling in a sentence or two."""
    beat = f"{found.beat.numerator}/{found.beat.denominator}"
    parts = []
    if found.ceiling.value is not None and found.ceiling.ci95 is not None:
        low, high = found.ceiling.ci95
        parts.append(
            f"In control up to {beat} = {found.ceiling.value:.0f} "
            f"(between {low:.0f} and {high:.0f}, {found.ceiling.n} repetitions)."
        )
    elif found.at_least_bpm is not None and found.at_most_bpm is None:
        parts.append(
            f"In control at every tempo tried: the ceiling is {beat} = {found.at_least_bpm:.0f} or more."
        )
    elif found.at_most_bpm is not None and found.at_least_bpm is None:
        parts.append(
            f"Not in control at any tempo tried: the ceiling is {beat} = {found.at_most_bpm:.0f} or less."
        )
    else:
        parts.append("The ceiling is not known yet.")
    parts.append(f"{capitalised(remark_words(found.why))}.")
    if found.next_tempo_bpm is not None:
        parts.append(f"Try {beat} = {found.next_tempo_bpm:g} next, only as fast as the hands stay loose.")
    return " ".join(parts)


def _x(axis: Axis, tempo_bpm: float) -> float:
    share = (tempo_bpm - axis.low) / (axis.high - axis.low)
    return LEFT + share * (WIDTH - LEFT - RIGHT)


def _y(chance: float) -> float:
    return HEIGHT - BOTTOM - chance * (HEIGHT - TOP - BOTTOM)


def _path(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{px(x)} {px(y)}" for x, y in points)


def _band(found: TempoCeiling, axis: Axis) -> str:
    there = [(_x(axis, tempo), _y(high)) for tempo, _, _, high in found.curve]
    back = [(_x(axis, tempo), _y(low)) for tempo, _, low, _ in reversed(found.curve)]
    return el("path", d=_path([*there, *back]) + "Z", class_="band")


def _curve(found: TempoCeiling, axis: Axis) -> str:
    return el("path", d=_path([(_x(axis, t), _y(chance)) for t, chance, _, _ in found.curve]), class_="curve")


def _grid(axis: Axis) -> str:
    out = []
    for step in axis.steps:
        x = _x(axis, step)
        out.append(el("path", d=f"M{px(x)} {px(HEIGHT - BOTTOM)}v4", class_="grid"))
        out.append(text_at(x, HEIGHT - BOTTOM + 18, f"{step:.{axis.decimals}f}", class_="m"))
    for chance, words in ((1.0, "every time"), (0.75, "3 of 4"), (0.5, "1 of 2"), (0.0, "never")):
        out.append(el("path", d=f"M{px(LEFT)} {px(_y(chance))}H{px(WIDTH - RIGHT)}", class_="grid"))
        out.append(text_at(LEFT - 10, _y(chance) + 4, words, class_="n"))
    return "".join(out)


def _sticks(found: TempoCeiling, axis: Axis) -> str:
    well, not_well = [], []
    for each in found.tried:
        x = _x(axis, each.tempo_bpm)
        if each.controlled:
            well.append(f"M{px(x)} {px(_y(1) - 3)}v{px(-STICK_PX)}")
        else:
            not_well.append(f"M{px(x - LYING_PX)} {px(_y(0) + 5)}h{px(2 * LYING_PX)}")
    return el("path", d="".join(well), class_="well") + el("path", d="".join(not_well), class_="not")


def _found(found: TempoCeiling, axis: Axis) -> str:
    beat = f"{found.beat.numerator}/{found.beat.denominator}"
    label = text_at(WIDTH - RIGHT, HEIGHT - 6, f"tempo, {beat} = beats a minute", class_="n")
    if found.ceiling.value is None or found.ceiling.ci95 is None:
        return label + text_at(LEFT, 18, remark_words(found.why), class_="said")
    low, high = (_x(axis, edge) for edge in found.ceiling.ci95)
    x, y = _x(axis, found.ceiling.value), _y(0.75)
    low, high = max(low, LEFT), min(high, WIDTH - RIGHT)
    return (
        label
        + el("path", d=f"M{px(low)} {px(y)}H{px(high)}", class_="between")
        + el("path", d=f"M{px(x)} {px(TOP - 22)}V{px(HEIGHT - BOTTOM)}", class_="at")
        + text_at(x, TOP - 28, f"{beat} = {found.ceiling.value:.0f}", class_="said m")
    )
