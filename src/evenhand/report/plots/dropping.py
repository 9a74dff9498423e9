"""How a stick is held to be dropped, drawn: where it balances, the grip from the thumb's side, the fall.

Conventions: cm around the fulcrum, x towards the thick end, y downwards, as the right hand is seen from the
left; a left hand is its mirror. A stick of 40.6 cm by 1.4 cm, held 13.5 cm from its thick end, 3.5 cm behind
where it balances; fingers 1.3 to 1.9 cm wide (usual figures, from memory). Limbs are round strokes: an edge
in the hand's ink, and over it a narrower one in the colour of the paper.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from evenhand.music.exercise import HAND_NAMES, Hand
from evenhand.report.plots.marks import HAND_CLASS
from evenhand.report.plots.markup import Point, el, esc, picture, px, text_at

WIDTH = 340.0
BUTT_CM, BALANCE_CM, TIP_CM = 13.5, -3.5, -27.1  # along the stick, from the fulcrum
RAISED, FALLEN = math.radians(14.5), math.radians(-5.0)  # of the tip, over the level
EDGE_PX = 1.3
KEPT, BOUNCES = 0.64, 7  # of its height, at e = 0.8
STEPS = (
    (
        "Lay the stick across one finger and find where it balances. Hold it at the ring, a little "
        "nearer its thick end."
    ),
    (
        "Thumb on one side, first joint of the first finger on the other, so lightly that the stick can turn "
        "between them. The other fingers are open and touch nothing."
    ),
    "Palm down, wrist loose. Lift the tip a hand's breadth over the middle of the pad, the same each time.",
    (
        "Let the tip fall: do not throw it. The hand stays where it is and grips no harder. Leave the stick "
        "alone until it lies still; then take it up again."
    ),
)
INDEX: Sequence[Point] = ((4.0, -2.5), (0.6, -2.15), (-1.0, -0.9), (-0.7, 0.75), (0.5, 1.2))
OTHERS: Sequence[tuple[float, Sequence[Point]]] = (
    (1.35, ((5.6, -1.8), (4.7, 1.6), (4.9, 3.6), (5.7, 4.8))),
    (1.55, ((4.9, -2.0), (3.1, 1.3), (3.2, 3.8), (4.2, 5.1))),
    (1.6, ((4.3, -2.2), (1.6, 0.8), (1.5, 3.2), (2.5, 4.5))),
)
THUMB: Sequence[Point] = ((7.2, -0.75), (4.7, 0.2), (2.2, -0.3), (0.0, 0.05))
BODY = (
    ((20.0, -3.9), None),
    ((9.6, -3.0), ((15.0, -3.7), (12.0, -3.0))),
    ((4.0, -3.5), ((7.8, -3.0), (5.6, -3.7))),
    ((2.9, -2.4), ((3.1, -3.4), (2.8, -2.9))),
    ((4.4, -0.6), ((3.0, -1.6), (3.8, -0.9))),
    ((6.2, 1.05), ((4.6, 0.4), (5.2, 0.95))),
    ((9.8, 0.55), ((7.4, 1.2), (8.6, 0.6))),
    ((20.0, 0.9), ((12.5, 0.5), (16.0, 0.8))),
)


@dataclass(frozen=True, slots=True)
class _Place:
    """Where the fulcrum is drawn, at which scale, and which way round."""

    x: float
    y: float
    px_per_cm: float
    hand: Hand

    @property
    def side(self) -> int:
        """1 as the right hand is drawn, -1 for its mirror."""
        return 1 if self.hand == "R" else -1

    def at(self, point: Point) -> Point:
        """Return where a point in cm is drawn."""
        return self.x + self.side * point[0] * self.px_per_cm, self.y + point[1] * self.px_per_cm

    def xy(self, point: Point) -> str:
        """Write a point as path data."""
        x, y = self.at(point)
        return f"{px(x)} {px(y)}"


def drop_guide(hands: str = "R") -> str:
    """Return the drawing and its steps in words, for the hands that drop."""
    shown: list[Hand] = [hand for hand in HAND_NAMES if hand in hands]
    figures = "".join(
        el("figure", each) for each in (_balance(shown[0]), *map(_held, shown), *map(_fall, shown))
    )
    steps = el("ol", *(el("li", esc(step)) for step in STEPS))
    return el("details", el("summary", "How to hold and drop it"), figures, steps, class_="guide", open="")


def _balance(hand: Hand) -> str:
    """Draw where the stick balances, and where it is held."""
    place = _Place(_mirrored(hand, 222.0), 40.0, 7.0, hand)
    x, y = place.at((BALANCE_CM, 0.7))
    finger = [(BALANCE_CM, 1.55), (BALANCE_CM, 5.6)]
    inside = [
        *_limb(place, finger, 1.6),
        *_stick(place, 0.0),
        _mark(place),
        text_at(x - 16 * place.side, y + 26, "balances here", class_="n" if hand == "R" else "s"),
        text_at(place.x + 4 * place.side, y + 26, "hold it here", class_="s" if hand == "R" else "n"),
        el("path", class_="lead", d=f"M{px(place.x)} {px(y + 16)}V{px(y + 2)}"),
        text_at(*_over(place, BUTT_CM), "thick end", class_="m"),
        text_at(*_over(place, TIP_CM), "tip", class_="m"),
    ]
    return _drawn(inside, 86.0, f"balance-{hand}", "Where the stick balances", STEPS[0])


def _held(hand: Hand) -> str:
    """Draw the grip from near."""
    place = _Place(_mirrored(hand, 118.0), 66.0, 13.0, hand)
    inside = [
        *_hand(place, RAISED),
        *_label(place, (-0.55, -1.75), (-5.6, -4.1), "first finger"),
        *_label(place, (-0.3, 0.7), (-6.2, 2.6), "thumb"),
        *_label(place, (3.6, 4.4), (-4.4, 5.6), "the others open"),
        *_label(place, (11.6, 3.2), (11.0, 5.9), "thick end, free"),
        _mark(place),
    ]
    title = f"The {HAND_NAMES[hand]} hand from its thumb's side"
    return _drawn(inside, 156.0, f"held-{hand}", title, STEPS[1])


def _fall(hand: Hand) -> str:
    """Draw the stick as it is let go, and where its tip falls to."""
    place = _Place(_mirrored(hand, 232.0), 78.0, 6.0, hand)
    tip, below = (_turned(TIP_CM, 0.0, angle) for angle in (RAISED, FALLEN))
    top = below[1] + 0.75
    (tip_x, tip_y), (_, pad_y) = place.at(tip), place.at((0.0, top))
    inside = [
        *_pad(place, top),
        *_trail(place, below),
        el(
            "path",
            class_="lead",
            d=f"M{place.xy(tip)}A{px(163)} {px(163)} 0 0 {0 if hand == 'R' else 1} {place.xy(below)}",
        ),
        *_hand(place, RAISED),
        el(
            "path",
            class_="measure",
            d=f"M{px(tip_x)} {px(tip_y + 8)}V{px(pad_y - 1)}m-4 0h8M{px(tip_x - 4)} {px(tip_y + 8)}h8",
        ),
        text_at(
            tip_x + 8 * place.side,
            (tip_y + pad_y) / 2 + 9,
            "a hand's breadth",
            class_="s" if hand == "R" else "n",
        ),
        _mark(place),
        text_at(*place.at((-26.5, top + 2.0)), "pad", class_="m"),
        text_at(*place.at((9.0, -5.0)), f"{HAND_NAMES[hand]} hand: it stays", class_="m"),
    ]
    return _drawn(
        inside, 126.0, f"fall-{hand}", f"The {HAND_NAMES[hand]} hand lets it fall", f"{STEPS[2]} {STEPS[3]}"
    )


def _mirrored(hand: Hand, x: float) -> float:
    return x if hand == "R" else WIDTH - x


def _drawn(inside: Sequence[str], height: float, key: str, title: str, words: str) -> str:
    return picture(
        inside, width=WIDTH, height=height, key=f"drop-{key}", title=title, words=words, class_="chart how"
    )


def _hand(place: _Place, angle: float) -> Iterator[str]:
    """Draw a hand with its stick: what is behind the stick first."""
    for width, finger in OTHERS:
        yield from _limb(place, finger, width)
    yield from _limb(place, INDEX, 1.6)
    yield from _stick(place, angle)
    ink = HAND_CLASS[place.hand]
    body = f"M{place.xy(BODY[0][0])}" + "".join(
        f"C{place.xy(by[0])} {place.xy(by[1])} {place.xy(to)}" for to, by in BODY if by is not None
    )
    yield el("path", class_=f"skin {ink}", d=body, stroke_width=EDGE_PX)
    yield from _limb(place, THUMB, 1.8)
    base = f"M{place.xy((7.4, -0.8))}L{place.xy((6.4, -0.4))}"
    yield el("path", class_="flesh", d=base, stroke_width=1.8 * place.px_per_cm)
    nail = f"M{place.xy((1.25, -0.55))}Q{place.xy((-0.5, -0.75))} {place.xy((-0.55, -0.05))}"
    yield el("path", class_=f"nail {ink}", d=nail)


def _limb(place: _Place, joints: Sequence[Point], width_cm: float) -> Iterator[str]:
    """Draw a finger through its joints."""
    d = f"M{place.xy(joints[0])}"
    for joint, after in pairwise(joints[1:]):
        middle = (joint[0] + after[0]) / 2, (joint[1] + after[1]) / 2
        d += f"Q{place.xy(joint)} {place.xy(after if after is joints[-1] else middle)}"
    if len(joints) == 2:
        d += f"L{place.xy(joints[1])}"
    width = width_cm * place.px_per_cm
    yield el("path", class_=f"limb {HAND_CLASS[place.hand]}", d=d, stroke_width=width)
    yield el("path", class_="flesh", d=d, stroke_width=width - 2 * EDGE_PX)


def _turned(along_cm: float, across_cm: float, angle: float) -> Point:
    """Return a point of the stick, turned about the fulcrum: a positive angle lifts the tip."""
    cos, sin = math.cos(angle), math.sin(angle)
    return along_cm * cos - across_cm * sin, along_cm * sin + across_cm * cos


def _stick(place: _Place, angle: float) -> Iterator[str]:
    """Draw the stick: its shaft, the shoulder that tapers, the tip."""
    outline = [
        (BUTT_CM, 0.0), (BUTT_CM - 0.1, 0.4), (BUTT_CM - 0.5, 0.7), (-16.5, 0.7), (-20.5, 0.58), (-25.2, 0.3),
        (-25.6, 0.46), (-26.3, 0.55), (-26.9, 0.38), (TIP_CM, 0.0),
    ]  # fmt: skip
    other_side = [(along, -across) for along, across in reversed(outline[1:-1])]
    points = (place.xy(_turned(*point, angle)) for point in (*outline, *other_side))
    yield el("path", class_="wood", d=f"M{'L'.join(points)}z")


def _mark(place: _Place) -> str:
    """Mark the fulcrum, the point about which the stick turns."""
    r = 4.2
    return el(
        "path",
        class_="pivot",
        d=f"M{px(place.x - r)} {px(place.y)}a{r} {r} 0 1 0 {2 * r} 0a{r} {r} 0 1 0 -{2 * r} 0",
    )


def _label(place: _Place, at: Point, words_at: Point, words: str) -> Iterator[str]:
    (x, y), (a, b) = place.at(words_at), place.at(at)
    yield el("path", class_="lead", d=f"M{px(x)} {px(y + (3 if b > y else -11))}L{px(a)} {px(b)}")
    yield text_at(x, y, words, class_="m")


def _pad(place: _Place, top: float) -> Iterator[str]:
    corners = ((-38.0, top), (-15.0, top), (-15.0, top + 2.8), (-38.0, top + 2.8))
    yield el("path", class_="pad", d=f"M{'L'.join(map(place.xy, corners))}z")


def _trail(place: _Place, below: Point) -> Iterator[str]:
    """Draw how the tip comes back by itself, ever lower: two thirds as high each time, and so much sooner."""
    x, y, high = below[0] - 0.6, below[1], KEPT * (below[1] - _turned(TIP_CM, 0.0, RAISED)[1])
    d = f"M{place.xy((x, y))}"
    for _ in range(BOUNCES):
        wide = 1.1 * math.sqrt(high)
        d += f"Q{place.xy((x - wide / 2, y - 2 * high))} {place.xy((x - wide, y))}"
        x, high = x - wide, KEPT * high
    yield el("path", class_="trail", d=d)


def _over(place: _Place, along_cm: float) -> Point:
    x, y = place.at((along_cm, -1.6))
    return min(max(x, 14.0), WIDTH - 26.0), y
