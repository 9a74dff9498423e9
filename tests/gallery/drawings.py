"""Drawings of exercises as shapes with owners, measured off the SVG, and what may be wrong with them.

Conventions: px as in the SVG; y from the staff line, downwards. The engraver says what it inked where (a box,
a kind and the piece it belongs to); the shapes themselves come from the SVG's own paths, and a shape that no
box claims, or a box without its shape, is a fault. Gould's *Behind Bars* is the published reference for
what may touch what, followed from memory; the least distances are the house's.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property, lru_cache
from typing import Any
from unittest.mock import patch
from xml.etree import ElementTree as ET

import numpy as np
from numpy.typing import NDArray

from evenhand.music.engraving import engrave as engraving
from evenhand.music.engraving.engraved import EngravedExercise
from evenhand.music.engraving.ink import InkBox
from evenhand.music.engraving.line import LineOfMusic, write_line
from evenhand.music.exercise import Exercise, Meter

Points = NDArray[np.float64]

SVG = "{http://www.w3.org/2000/svg}"
LEAST = 15.0  # a twelfth of a staff space, engraver's units: between what may not touch
LEAST_LETTERS = 12.0
SAME_PX = 0.06  # coordinates are written with two decimals
CAPITAL_EM = 0.7
SAMPLES = np.linspace(0.0, 1.0, 7)[1:, None]


@dataclass(frozen=True, eq=False)
class Shape:
    """One closed piece of ink: its contours' corners, what it is and whose (a piece's number)."""

    contours: tuple[Points, ...]
    kind: str = ""
    piece: int = -1
    tag: str = "path"

    @cached_property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom."""
        corners = np.concatenate(self.contours)
        (left, top), (right, bottom) = corners.min(axis=0), corners.max(axis=0)
        return float(left), float(top), float(right), float(bottom)

    def moved(self, x: float, y: float = 0.0) -> Shape:
        """Return it elsewhere."""
        return replace(self, contours=tuple(each + np.array((x, y)) for each in self.contours))

    def __str__(self) -> str:
        left, top, _, _ = self.box
        return f"{self.kind} of {self.piece} at {left:.0f}, {top:.0f}"


@dataclass(frozen=True)
class Drawing:
    """One line: what is drawn, the faults of reading it, and what the engraver knew of it."""

    shapes: tuple[Shape, ...]
    faults: tuple[str, ...]
    line: LineOfMusic
    width: float

    @property
    def scale(self) -> float:
        """Px an engraver's unit."""
        return self.line.placing.scale

    def of(self, *kinds: str) -> list[Shape]:
        """Return what is of a kind."""
        return [shape for shape in self.shapes if shape.kind in kinds]


def drawn(exercise: Exercise, **asked: Any) -> tuple[EngravedExercise, list[Drawing]]:
    """Engrave an exercise, and read its lines back from their SVG."""
    lines: list[LineOfMusic] = []

    def kept(line: LineOfMusic) -> str:
        lines.append(line)
        return write_line(line)

    with patch.object(engraving, "write_line", kept):
        engraved = engraving.engrave(exercise, **asked)
    return engraved, [
        _drawing(line, each.svg, asked["width"]) for line, each in zip(lines, engraved.lines, strict=True)
    ]


def _drawing(line: LineOfMusic, svg: str, width: float) -> Drawing:
    root = ET.fromstring(svg)
    (staff,) = [g for g in root if g.tag == f"{SVG}g" and g.get("transform") == _staff(line)]
    paths = [shape for path in list(staff.iter(f"{SVG}path"))[1:] for shape in shapes_of(path.get("d", ""))]
    texts = [shape for part in staff for shape in _texts(part, 0.0, 0.0)]
    shapes, faults = claimed([*paths, *texts], line.ink.boxes)
    return Drawing(tuple(shapes), tuple(faults), line, width)


def _staff(line: LineOfMusic) -> str:
    return f"translate(0 {f'{line.staff_y:.2f}'.rstrip('0').rstrip('.')})"


_SIGN = re.compile(r"M(-?[\d.]+) (-?[\d.]+)([^M]*)")
_STEP = re.compile(r"([HVLachlmsvz])([^A-Za-z]*)")
_NUMBER = re.compile(r"-?\d*\.?\d+")


def shapes_of(data: str) -> Iterator[Shape]:
    """Read path data: each absolute M begins a sign, whose further contours begin with m."""
    for x, y, rest in _SIGN.findall(data):
        if rest[:1] in {"H", "V", "L"}:
            yield Shape((_corners(float(x), float(y), rest),))
        else:
            yield Shape(_contours(rest)).moved(float(x), float(y))


def _corners(x: float, y: float, rest: str) -> Points:
    """Read straight lines."""
    corners = [(x, y)]
    for command, values in _STEP.findall(rest):
        numbers = [float(each) for each in _NUMBER.findall(values)]
        x = numbers[0] if command in {"H", "L"} else x
        y = numbers[-1] if command in {"V", "L"} else y
        corners.append((x, y))
    return np.array(corners)


@lru_cache(maxsize=4096)
def _contours(rest: str) -> tuple[Points, ...]:
    """Read a sign's outline from its origin; curves by six points each."""
    out: list[list[Points]] = [[np.zeros((1, 2))]]
    here = start = np.zeros(2)
    control = here
    for command, values in _STEP.findall(rest):
        numbers = [float(each) for each in _NUMBER.findall(values)]
        if command == "z":
            here = control = start
            continue
        if command == "m":
            here = control = start = here + numbers
            out.append([here[None]])
            continue
        for step in _steps(command, numbers):
            points, control = _walked(command, here, control, step)
            out[-1].append(points)
            here = points[-1]
    return tuple(np.concatenate(each) for each in out if len(each) > 1)


def _steps(command: str, numbers: list[float]) -> Iterator[list[float]]:
    many = {"c": 6, "s": 4, "a": 7, "l": 2, "h": 1, "v": 1}[command]
    yield from (numbers[at : at + many] for at in range(0, len(numbers), many))


def _walked(command: str, here: Points, control: Points, step: list[float]) -> tuple[Points, Points]:
    """Return the points of one step, and the control point that a smooth curve would go on from."""
    if command == "a":
        radius, across = step[0], step[5]
        turns = np.pi * (1.0 + SAMPLES[:, 0]) if across > 0 else np.pi * SAMPLES[:, 0]
        circle = np.stack([np.cos(turns), np.sin(turns)], axis=1) * radius
        return here + np.array((across / 2, 0.0)) + circle, here
    if command in {"c", "s"}:
        first = here + step[:2] if command == "c" else 2 * here - control
        second, end = here + step[-4:-2], here + step[-2:]
        t, u = SAMPLES, 1.0 - SAMPLES
        curve = u**3 * here + 3 * u * u * t * first + 3 * u * t * t * second + t**3 * end
        return curve, second
    by = {"l": step, "h": [step[0], 0.0], "v": [0.0, step[0]]}[command]
    end = here + by
    return end[None], end


def _texts(part: ET.Element, y: float, size: float) -> Iterator[Shape]:
    """Read letters as boxes on their baselines."""
    size = float(part.get("font-size", size))
    if part.tag == f"{SVG}text":
        x, y, half = float(part.get("x", 0)), float(part.get("y", y)), _half_width(part.text or "") * size
        if part.get("class") == "ending":
            x += half
        box = [
            (x - half, y - CAPITAL_EM * size),
            (x + half, y - CAPITAL_EM * size),
            (x + half, y),
            (x - half, y),
        ]
        yield Shape((np.array(box),), tag="text")
        return
    moved = re.fullmatch(r"translate\(0 (-?[\d.]+)\)", part.get("transform", ""))
    for each in part:
        yield from _texts(each, y + (float(moved[1]) if moved else 0.0), size)


WIDE = {
    "R": 0.72,
    "L": 0.67,
    "B": 0.67,
    "&": 0.78,
    "(": 0.33,
    ")": 0.33,
    ".": 0.25,
    "×": 0.56,
    "t": 0.28,
    "r": 0.33,
    "i": 0.28,
    "l": 0.28,
    "e": 0.44,
    "a": 0.44,
}  # fmt: skip - em; a Times', bold for R, L, B: from memory


def _half_width(text: str) -> float:
    return sum(WIDE.get(char, 0.5) for char in text) / 2


def claimed(shapes: list[Shape], boxes: list[InkBox]) -> tuple[list[Shape], list[str]]:
    """Give each shape its owner: the box that says the same. What has none is a fault; so is a box left."""
    edges = np.array([[box.left, box.top, box.right, box.bottom] for box in boxes]).reshape(-1, 4)
    free = np.ones(len(boxes), dtype=bool)
    known: list[Shape] = []
    faults: list[str] = []
    for shape in shapes:
        far = _distance(shape, edges) + np.where(free, 0.0, np.inf)
        at = int(far.argmin())
        if far[at] > (SAME_PX if shape.tag == "path" else 0.5):
            faults.append(f"ink that nobody claims at {shape.box[0]:.1f}, {shape.box[1]:.1f}")
            continue
        free[at] = False
        known.append(replace(shape, kind=boxes[at].kind, piece=boxes[at].piece))
    left = [box for box, is_free in zip(boxes, free, strict=True) if is_free]
    faults += [f"{box.kind} of {box.piece} is not drawn where it is said" for box in left]
    return known, faults


def _distance(shape: Shape, edges: Points) -> Points:
    """Return how far a shape's box is from each; a text's by its middle or beginning, and its baseline."""
    if shape.tag == "path":
        out: Points = np.abs(edges - shape.box).max(axis=1)
        return out
    middle = (shape.box[0] + shape.box[2]) / 2
    across = np.minimum(np.abs(edges[:, 0] - shape.box[0]), np.abs((edges[:, 0] + edges[:, 2]) / 2 - middle))
    return np.maximum(across, np.abs(edges[:, 3] - shape.box[3]))


# What may touch what. By one owner: a note's own parts; by any: what is made to meet.
OF_ONE = {
    frozenset(pair)
    for pair in (
        ("head", "stem"), ("stem", "flag"), ("stem", "roll"), ("grace",), ("rest",), ("tuplet",),
        ("dynamic",), ("meter",), ("bar line",), ("swell",), ("ending",),
    )
}  # fmt: skip
OF_ANY = {frozenset(pair) for pair in (("stem", "beam"), ("tie", "bar line"), ("ending",))}


def faults_of(drawing: Drawing) -> list[str]:
    """Name everything that is wrong with a line by itself."""
    return [*drawing.faults, *touching(drawing), *outside(drawing), *crossed(drawing), *slanted(drawing)]


def touching(drawing: Drawing) -> Iterator[str]:
    """Find ink on ink, or too near, where it may not be."""
    shapes = drawing.shapes
    boxes = np.array([shape.box for shape in shapes])
    least = LEAST * drawing.scale
    near = (
        (boxes[:, None, 0] < boxes[None, :, 2] + least)
        & (boxes[None, :, 0] < boxes[:, None, 2] + least)
        & (boxes[:, None, 1] < boxes[None, :, 3] + least)
        & (boxes[None, :, 1] < boxes[:, None, 3] + least)
    )
    for first, second in zip(*np.nonzero(np.triu(near, 1)), strict=True):
        one, other = shapes[first], shapes[second]
        kinds = frozenset((one.kind, other.kind))
        if kinds in OF_ANY or (kinds in OF_ONE and one.piece == other.piece):
            continue
        wanted = (LEAST_LETTERS if "text" in {one.tag, other.tag} else LEAST) * drawing.scale
        if (gap := gap_of(one, other)) < wanted:
            yield f"{one} is {gap:.2f} px from {other}, not {wanted:.2f}"


def gap_of(one: Shape, other: Shape) -> float:
    """Return the distance between two shapes, px; 0 where they lie on each other."""
    if any(_inside(a, other) or _inside(b, one) for a in one.contours for b in other.contours):
        return 0.0
    return min(
        min(_apart(a, b), _apart(b, a), 0.0 if _cross(a, b) else np.inf)
        for a in one.contours
        for b in other.contours
    )


def _segments(contour: Points) -> tuple[Points, Points]:
    return contour, np.roll(contour, -1, axis=0)


def _apart(points: Points, contour: Points) -> float:
    """Return the least distance of points to a contour's edges."""
    start, end = _segments(contour)
    along = end - start
    length = np.maximum((along**2).sum(axis=1), 1e-12)
    share = np.clip(((points[:, None] - start) * along).sum(axis=2) / length, 0.0, 1.0)
    nearest = start + share[..., None] * along
    return float(np.sqrt(((points[:, None] - nearest) ** 2).sum(axis=2)).min())


def _cross(a: Points, b: Points) -> bool:
    """Tell whether any two edges cross."""
    (p, q), (r, s) = _segments(a), _segments(b)

    def side(at: Points, to: Points, of: Points) -> Points:
        d, e = to - at, of[None] - at[:, None]
        out: Points = d[:, None, 0] * e[..., 1] - d[:, None, 1] * e[..., 0]
        return out

    apart = side(p, q, r) * side(p, q, s) < 0
    return bool((apart & (side(r, s, p) * side(r, s, q) < 0).T).any())


def _inside(points: Points, shape: Shape) -> bool:
    """Tell whether a contour's first corner lies in a shape's ink (even-odd)."""
    x, y = points[0]
    odd = False
    for contour in shape.contours:
        (ax, ay), (bx, by) = (each.T for each in _segments(contour))
        spans = (ay > y) != (by > y)
        with np.errstate(divide="ignore", invalid="ignore"):
            right = x < ax + (y - ay) / (by - ay) * (bx - ax)
        odd ^= bool((spans & right).sum() % 2)
    return odd


def outside(drawing: Drawing) -> Iterator[str]:
    """Find what is drawn beyond the drawing's edges."""
    top = -drawing.line.staff_y
    for shape in drawing.shapes:
        left, high, right, low = shape.box
        if (
            left < 0
            or right > drawing.line.placing.columns.width
            or high < top
            or low > top + drawing.line.height
        ):
            yield f"{shape} is outside the drawing"


def slanted(drawing: Drawing) -> Iterator[str]:
    """Find notes that are held and drawn at another height than they were struck."""
    heads = {shape.piece: shape.box for shape in drawing.of("head")}
    for at, note in enumerate(drawing.line.placing.exercise.notes):
        if note.held and {at - 1, at} <= heads.keys():
            one, other = heads[at - 1], heads[at]
            if abs(one[1] + one[3] - other[1] - other[3]) > 1.0:
                yield f"{at - 1} is held at another height"


def beams_of(drawing: Drawing) -> Iterator[tuple[int, int]]:
    """Read which pieces each topmost beam joins: the first and the last whose stems end in it."""
    stems = sorted((shape.box, shape.piece) for shape in drawing.of("stem"))
    for left, top, right, bottom in (beam.box for beam in drawing.of("beam")):
        joined = [
            piece
            for (a, high, b, _), piece in stems
            if a > left - SAME_PX and b < right + SAME_PX and top - SAME_PX <= high <= bottom
        ]
        if joined:
            yield joined[0], joined[-1]


def crossed(drawing: Drawing) -> Iterator[str]:
    """Find beams that cross a beat, as the meter counts them."""
    exercise = drawing.line.placing.exercise
    for first, last in beams_of(drawing):
        bar, meter, start = bar_at(exercise, exercise.starts[first])
        values = {note.value for note in exercise.notes[first : last + 1]}
        eighths = min(values) >= Fraction(1, 8) and all(v.denominator in {2, 4, 8} for v in values)
        edges = edges_of(meter, bar, eighths=eighths)
        places = [exercise.starts[at] - start for at in (first, last)]
        if any(each.start <= first and last < each.stop for each in exercise.spelling.tuplets):
            continue
        if places[1] >= bar or bisect_right(edges, places[0]) != bisect_right(edges, places[1]):
            yield f"the beam from {first} to {last} crosses a beat of {meter or 'no meter'}"


def bar_at(exercise: Exercise, time: Fraction) -> tuple[Fraction, Meter | None, Fraction]:
    """Return a bar's length, its meter, and when its first beat is, counted from the top."""
    changes = {exercise.starts[at]: meter for at, meter in exercise.spelling.meters}
    lines = [exercise.starts[at] for at in exercise.bar_lines if at < len(exercise.notes)]
    meter, start = exercise.meter, Fraction(0)
    if meter is None:
        begins = max([line for line in lines if line <= time], default=Fraction(0))
        ends = min([line for line in lines if line > time], default=exercise.length)
        return ends - begins, None, begins
    if exercise.spelling.pickup:
        start = min(lines) - meter.bar
    while time >= start + meter.bar:
        start += meter.bar
        meter = changes.get(start, meter)
    return meter.bar, meter, start


def edges_of(meter: Meter | None, length: Fraction, *, eighths: bool) -> list[Fraction]:
    """Return where the beats of a bar begin (common practice).

    An additive meter's groups; dotted beats in compound meters; quarters, and halves where all are eighths;
    an eighth left over joins the beat before.
    """
    if meter and meter.groups:
        sums = [sum(meter.groups[:at]) for at in range(len(meter.groups))]
        return [Fraction(each, meter.unit) for each in sums]
    beat = Fraction(1, 4)
    if meter:
        beat = Fraction(3, meter.unit) if meter.unit >= 8 and meter.beats % 3 == 0 else beat
    if eighths and beat == Fraction(1, 4) and (meter is None or (length * 2).denominator == 1):
        beat *= 2
    edges = [beat * at for at in range(int(length / beat) + 1)]
    return [edge for edge in edges if edge == 0 or length - edge > beat / 2]


def uneven(drawings: list[Drawing]) -> Iterator[str]:
    """Find lines of a printed page that are not as wide as it, all but the last, or wider."""
    ends = [drawing.line.end_x for drawing in drawings]
    for at, end in enumerate(ends[:-1]):
        if abs(end - ends[0]) > 0.5:
            yield f"line {at + 1} ends at {end:.1f}, the first at {ends[0]:.1f}"
    if ends[-1] > ends[0] + 0.5 and len(ends) > 1:
        yield f"the last line ends at {ends[-1]:.1f}, the others at {ends[0]:.1f}"
    widest = max(shape.box[2] for drawing in drawings for shape in drawing.shapes)
    if widest > drawings[0].width:
        yield f"a line is {widest:.1f} px wide, the page {drawings[0].width:.1f}"
    if len(ends) > 1 and ends[0] < 0.97 * drawings[0].width:
        yield f"lines end at {ends[0]:.1f} on a page of {drawings[0].width:.1f} px"


def unlike(drawings: list[Drawing]) -> Iterator[str]:
    """Find letters of a kind that are of unlike sizes, and pieces with more than one head."""
    heights = defaultdict(set)  # type: dict[str, set[float]]
    for drawing in drawings:
        for shape in drawing.of("letter", "grace letter"):
            heights[shape.kind].add(round(shape.box[3] - shape.box[1], 1))
    yield from (f"{kind}s of unlike sizes" for kind, sizes in heights.items() if len(sizes) > 1)
    heads = Counter(shape.piece for drawing in drawings for shape in drawing.of("head"))
    yield from (f"{many} heads of {piece}" for piece, many in heads.items() if many > 1)
