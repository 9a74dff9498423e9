"""What was seen, in words: what to change about how it was filmed, and each hand's figures in a sentence."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from evenhand.measuring.labelled import ASKED_PLAYERS, ASKED_STROKES, Agreement
from evenhand.measuring.seen import HandSeen, SeenTake
from evenhand.measuring.values import Measure
from evenhand.music.exercise import HAND_NAMES, HANDS
from evenhand.report.words.figures import count, plain, sized
from evenhand.report.words.findings import EXPERIMENTAL
from evenhand.report.words.remarks import HANDS_NAMED
from evenhand.watching.values import LiftScale, SetUpKind, SetUpWarning

Facts = Mapping[str, float | str]

EXPERIMENT = (
    f"Whether a stick rebounds freely or is lifted is {EXPERIMENTAL}. "
    "Where it says lifted, look for yourself."
)
LIMITS = (
    "Heights are of the stick's tip over where it meets the pad, from coloured tape in the picture: "
    "measured on simulated films, not yet on films of players."
)
PRIVATE = (
    "A video of a child is private. It was read and not kept: only these figures are. "
    "Delete it where it lies when you no longer need it."
)


def _frames(facts: Facts) -> str:
    heights = f"It has {float(facts['fps']):.0f} frames a second. Film at 60 or more, in bright light"
    if facts["rises"]:
        return f"{heights}: at 30, heights are less sure, and how the stick rises even less."
    return f"{heights}: at so few, heights are rough, and how the stick rises is not judged."


def _close(facts: Facts) -> str:
    farther = "Set it 1.2 m away or more; 2 m is better"
    if "cm" in facts:
        return f"The camera is too close: {float(facts['cm']):.0f} cm are in the picture. {farther}."
    return (
        f"The camera seems to be too close, {float(facts['m']):.1f} m away: the two hands' heights then "
        f"differ. {farther}, and level: a camera that is tilted may look the same."
    )


SAYS: Mapping[SetUpKind, str | Callable[[Facts], str]] = {
    "too dark": "It is too dark: sticks blur, and tapes lose their colour. Put a bright lamp on the pad.",
    "tape in the background": (
        "There is {colour} in the background, too, over {percent:.1f} % of the picture. Take it out of the "
        "picture, or use another colour."
    ),
    "camera tilted": (
        "The camera is tilted by {deg:.0f} degrees. Set it level: the pad's two ends equally high."
    ),
    "too close": _close,
    "few frames a second": _frames,
    "uneven frames": (
        "{percent:.0f} % of the frames are missing or late. Switch off the phone's automatic frame rate, and "
        "film in bright light."
    ),
    "pad cut off": "The pad is cut off by the edge of the picture. Have the whole pad in the picture.",
    "pad not found": (
        "The pad was not found under the sticks. Put it before a background of another colour, and have all "
        "of it in the picture."
    ),
    "tape often hidden": (
        "The {hand} hand's tape was seen in {percent:.0f} % of the frames only; below 50 % no heights are "
        "said. See that nothing covers it; more light, or another colour, helps."
    ),
    "upright picture": "The picture is upright. Turn the phone on its side: sticks go across, not up.",
    "wide range": (
        "It is an HDR video, {bits:.0f} bits a colour. It was watched, but colours are less sure: switch "
        "HDR off."
    ),
    "shift not found": (
        "The sound's hits and the sticks' do not fit together, so no heights are said. Check that the sound "
        "belongs to these pictures, and that both tapes can be seen at the hits."
    ),
    "cut-off film": "The video breaks off after {seconds:.0f} of {of:.0f} s: only that part was watched.",
    "no heights": (
        "There is nothing to measure heights by: have the whole pad in the picture and say how wide it is, "
        "or put two bands of tape on each stick."
    ),
    "tape not found": "The {hand} hand's {colour} tape was not found: that hand was not watched.",
    "one tape": (
        "Only the {hand} hand's tape was looked for, and {n:.0f} of {of:.0f} strokes are not that hand's: "
        "nothing is said of them. Put tape of another colour on the other stick, too."
    ),
}


def warning_words(warning: SetUpWarning) -> str:
    """Say what to change about how it was filmed.

    >>> warning_words(SetUpWarning("tape not found", {"hand": "L", "colour": "green"}))
    "The left hand's green tape was not found: that hand was not watched."
    """
    facts = dict(warning.facts)
    if "hand" in facts:
        facts["hand"] = HANDS_NAMED[str(facts["hand"])]
    if "share" in facts:
        facts["percent"] = 100 * float(facts["share"])
    says = SAYS[warning.kind]
    return says(facts) if callable(says) else says.format(**facts)


def lifting_words(scale: LiftScale) -> str:
    """Say what was fitted to a player's own strokes.

    >>> lifting_words(LiftScale((0.66, 0.9, 0.95), 2.1, 1.0, 20, 19, 0.975))
    'From 20 free and 19 lifted strokes: 98 % of them are told apart (experimental).'
    """
    strokes = f"{scale.n_free} free and {scale.n_lifted} lifted strokes"
    return f"From {strokes}: {100 * (scale.told_apart or 0.0):.0f} % of them are told apart (experimental)."


def labels_words(found: Agreement) -> list[str]:
    """Say how what was seen agrees with what was labelled, and what is still lacking for a proof.

    >>> labels_words(Agreement())[0]
    '0 labelled strokes of 0 players.'
    """
    players = len(found.players)
    said = [f"{count(found.strokes, 'labelled stroke')} of {count(players, 'player')}."]
    for kind in ("free", "lifted", "unsure"):
        own = {called: n for (label, called), n in found.rises.items() if label == kind}
        parts = [f"{own.get(called, 0)} called {called}" for called in ("free", "unsure", "lifted")]
        said.append(
            f"Labelled {kind}, {sum(own.values())}: {', '.join(parts)}, {own.get(None, 0)} not judged."
        )
    said += [
        _agreeing("Free against lifted, balanced accuracy of those called either", found.balanced),
        _agreeing("Tap, half or full as labelled", found.same_class),
    ]
    if found.not_found:
        said.append(f"{count(found.not_found, 'labelled stroke')} of that hand not seen.")
    if found.strokes < ASKED_STROKES or players < ASKED_PLAYERS:
        said.append(f"For a proof: {ASKED_STROKES} strokes of {ASKED_PLAYERS} players or more.")
    return said


def _agreeing(what: str, figure: Measure) -> str:
    if figure.value is None:
        return f"{what}: too few to judge ({figure.n}; {figure.needs} are needed)."
    return f"{what}: {sized(figure)} (from {figure.n})."


def seen_sentences(take: SeenTake) -> list[str]:
    """Say what was seen of each hand."""
    return [_hand_words(HAND_NAMES[hand], take.hands[hand]) for hand in HANDS if hand in take.hands]


def _hand_words(hand: str, own: HandSeen) -> str:
    """Say one hand's heights and rises."""
    n = own.height_mean_cm.n
    if own.height_mean_cm.value is None:
        return f"The {hand} hand: too few strokes were seen to say heights ({n})."
    parts = [f"from {sized(own.height_mean_cm)} on average", f"spread {sized(own.height_sd_cm)}"]
    if own.rebound_mean_cm.value is not None:
        parts.append(f"back up to {sized(own.rebound_mean_cm)}")
    said = f"The {hand} hand played {count(n, 'stroke')}: {', '.join(parts)}."
    if own.over_asked_cm.value is not None:
        way = "over" if own.over_asked_cm.value >= 0 else "under"
        said += f" That is {sized(own.over_asked_cm)} {way} what was asked."
    free, lifted = own.rises["free"], own.rises["lifted"]
    if free.value is None or lifted.value is None:
        return said
    shares = f"{plain(free.value, 0)} % free, {plain(lifted.value, 0)} % lifted, the rest unsure"
    return f"{said} Its rises ({EXPERIMENTAL.partition(':')[0]}): {shares}, from {free.n}."
