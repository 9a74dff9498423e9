"""The report of a take that was heard and seen: the ear's page, with what the pictures add."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from evenhand.measuring.seen import HandSeen, SeenTake
from evenhand.measuring.values import Measure
from evenhand.music.exercise import HAND_NAMES, HANDS
from evenhand.music.strokes.heights import COMMON_HEIGHTS, StrokeHeights
from evenhand.report.plots.markup import el, prose
from evenhand.report.plots.shell import fold, prose_lines, table, wide_figure
from evenhand.report.plots.sticks import heights_picture
from evenhand.report.take.report import Seen, report_text
from evenhand.report.words.figures import interval_words, plain
from evenhand.report.words.measures import NAMES
from evenhand.report.words.watching import EXPERIMENT, LIMITS, PRIVATE, seen_sentences, warning_words

CAPTION = (
    "How high each stick's tip was over the pad, right solid and left dashed; the hits stand under it, "
    "/ right and \\ left, where they were heard. The pale band is where half strokes start."
)
HEADS = ("figure", "value", "95 % range", "from")
TABLE = "Heights and rises of each hand. The answer about rises is experimental."
METHOD: Mapping[str, str] = {
    "Height": (
        "Of the stick's tip over where it meets the pad at its own hits. Before a hit it is the last highest "
        "point, the rebound is the first after it; each by a parabola through the frames about it."
    ),
    "Stroke": "Classes reach half-way to the next: tap, half and full from their common heights.",
    "Rise": (
        "From how much of its height the stick has at half its time, how fast it leaves, and how high it is "
        "after 30 ms, weighed together. Fitted to simulated sticks; experimental."
    ),
    "Sound and picture": (
        "The sound's shift is the one at which the sticks are lowest at the hits. Times are the sound's."
    ),
}


def watched_text(take: SeenTake, heights: StrokeHeights = COMMON_HEIGHTS) -> str:
    """Return the report of a take that was watched, as one self-contained HTML page."""
    seen = seen_part(take, heights)
    return report_text(take.heard, replace(seen, cautions=[*seen.cautions, PRIVATE]))


def stand_seen(take: SeenTake) -> str:
    """Return what a student is shown of what was seen: each hand in a sentence, and the picture."""
    drawn = heights_picture(take, COMMON_HEIGHTS)
    warned = [warning_words(warning) for warning in take.watched.warnings]
    words = prose_lines([*seen_sentences(take), *warned, EXPERIMENT])
    return fold("What was seen", words, wide_figure(drawn, CAPTION) if drawn else "", class_="words")


def seen_part(take: SeenTake, heights: StrokeHeights = COMMON_HEIGHTS) -> Seen:
    """Return what a video adds to a page of what was heard."""
    drawn = heights_picture(take, heights)
    warned = [el("li", prose(warning_words(warning))) for warning in take.watched.warnings]
    inside = "".join(
        [
            el("ul", *warned, class_="cautions") if warned else "",
            prose_lines(seen_sentences(take)),
            wide_figure(drawn, CAPTION) if drawn else "",
            table(HEADS, _rows(take), TABLE) if take.hands else "",
        ]
    )
    return Seen(inside, take.positions, (EXPERIMENT, LIMITS), {**METHOD, **_film(take)})


def _rows(take: SeenTake) -> Iterator[tuple[str, ...]]:
    for hand in HANDS:
        if hand in take.hands:
            yield from _hand_rows(HAND_NAMES[hand], take.hands[hand])
    yield _row(NAMES["balance.height_cm"], take.balance_cm)


def _hand_rows(hand: str, own: HandSeen) -> Iterator[tuple[str, ...]]:
    for key in ("height_mean_cm", "height_sd_cm", "rebound_mean_cm", "over_asked_cm"):
        figure: Measure = getattr(own, key)
        if figure.n:
            yield _row(f"{hand}: {NAMES[key]}", figure)
    for kind, share in own.rises.items():
        yield _row(f"{hand}: {NAMES[kind]}", share)


def _row(name: str, figure: Measure) -> tuple[str, ...]:
    if figure.value is None:
        return name, "too few to judge", "", str(figure.n)
    return name, f"{plain(figure.value, 1)} {figure.unit}", interval_words(figure.ci95), str(figure.n)


def _film(take: SeenTake) -> dict[str, str]:
    """Say what the film was, and what heights were measured by."""
    film, watched = take.film, take.watched
    said = [f"{film.format}, {film.width_px} by {film.height_px} px, {film.fps:.0f} frames a second"]
    if film.rotation_deg:
        said.append(f"turned by {film.rotation_deg} degrees to be shown")
    if film.capture_fps is not None:
        said.append(f"filmed at {film.capture_fps:.0f} by what it says itself")
    if watched.shift_ms is not None:
        way = "after" if watched.shift_ms >= 0 else "before"
        said.append(f"the sound comes {abs(watched.shift_ms):.0f} ms {way} the picture")
    said += [
        f"{HAND_NAMES[hand]}: {stick.px_per_cm:.1f} px for a cm" for hand, stick in watched.sticks.items()
    ]
    if watched.sticks:
        said.append(
            f"all heights may be off together by {100 * watched.scale_sd:.0f} % (one standard deviation)"
        )
    return {"Video": "; ".join(said)}
