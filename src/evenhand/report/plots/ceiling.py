"""The picture of a tempo ceiling: each repetition a stick at its tempo, and how control falls.

Conventions: px of the drawing's own units, tempo rising to the right. A repetition in
control stands upright on the upper line, another lies on the lower one.
"""

from __future__ import annotations

from collections.abc import Iterator

from evenhand.progress.ceiling.control import TempoCeiling
from evenhand.report.plots.axes import Axis, Frame, axis_over
from evenhand.report.plots.markup import el, px, text_at
from evenhand.report.plots.shell import picture_file
from evenhand.report.words.figures import capitalised
from evenhand.report.words.remarks import remark_words

WIDTH, HEIGHT = 640.0, 250.0
LEFT, RIGHT, TOP, BOTTOM = 92.0, 24.0, 46.0, 44.0
STICK_PX, LYING_PX = 15.0, 5.0
CHANCES = {1.0: "every time", 0.75: "3 of 4", 0.5: "1 of 2", 0.0: "never"}


def ceiling_picture(found: TempoCeiling) -> str:
    """Draw a ceiling as one SVG document of its own, or the tries alone where it is not known."""
    if found.tried:
        tempos = axis_over([point[0] for point in found.curve], least_range=20.0)
        frame = Frame(LEFT, WIDTH - RIGHT, TOP, HEIGHT - BOTTOM, tempos, Axis(0.0, 1.0))
        inside = [*_curve(found, frame), *_sticks(found, frame), *_found(found, frame)]
    else:
        inside = [text_at(LEFT, HEIGHT / 2, remark_words(found.why), class_="said")]
    return picture_file("ceiling", inside, WIDTH, HEIGHT, title="Tempo ceiling", words=ceiling_words(found))


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


def _curve(found: TempoCeiling, frame: Frame) -> Iterator[str]:
    """Draw the chance of control at each tempo with its band, and both scales."""
    yield frame.ribbon([(tempo, low, high) for tempo, _, low, high in found.curve])
    yield from frame.places(lambda bpm: f"{bpm:.{frame.across.decimals}f}", below_px=18.0)
    yield el("path", class_="grid", d="".join(map(frame.level, CHANCES)))
    for chance, words in CHANCES.items():
        yield text_at(LEFT - 10, frame.y(chance) + 4, words, class_="n")
    yield el("path", class_="line both", d=frame.line((tempo, chance) for tempo, chance, _, _ in found.curve))


def _sticks(found: TempoCeiling, frame: Frame) -> Iterator[str]:
    well, upright = [], f"v{px(-STICK_PX)}"
    not_well, lying = [], f"h{px(2 * LYING_PX)}"
    for each in found.tried:
        x = frame.x(each.tempo_bpm)
        if each.controlled:
            well.append(f"M{px(x)} {px(TOP - 3)}{upright}")
        else:
            not_well.append(f"M{px(x - LYING_PX)} {px(frame.bottom + 5)}{lying}")
    yield el("path", d="".join(well), class_="well")
    yield el("path", d="".join(not_well), class_="not")


def _found(found: TempoCeiling, frame: Frame) -> Iterator[str]:
    beat = f"{found.beat.numerator}/{found.beat.denominator}"
    yield text_at(WIDTH - RIGHT, HEIGHT - 6, f"tempo, {beat} = beats a minute", class_="n")
    if found.ceiling.value is None or found.ceiling.ci95 is None:
        yield text_at(LEFT, 18, remark_words(found.why), class_="said")
        return
    low, high = map(frame.x, found.ceiling.ci95)
    x = frame.x(found.ceiling.value)
    yield el("path", d=f"M{px(low)} {px(frame.y(0.75))}H{px(high)}", class_="between")
    yield el("path", d=f"M{px(x)} {px(TOP - 22)}V{px(frame.bottom)}", class_="asked")
    yield text_at(x, TOP - 28, f"{beat} = {found.ceiling.value:.0f}", class_="said m")
