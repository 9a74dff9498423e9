"""What to practise for each finding, and what comes first.

All of this is common practice, as teachers pass it on; no study stands behind a row, and a student's own
teacher goes before it. ``{hand}`` and ``{other}`` are filled in. Rows stand in the order of what to practise
first: what makes the rest unsafe or unclear, then notes that get lost, then time, then sound, then ornaments.
"""

from __future__ import annotations

from collections.abc import Mapping

from evenhand.domain.findings import FindingKind

REMEDIES: Mapping[FindingKind, str] = {
    "unlike_exercise": "Check that this exercise and this tempo were played, and send the take again.",
    "two_alignments": "Leave a short silence before the first note, or let the click sound while you play.",
    "tiring": (
        "Stop, rest, and come back slower and for a shorter time. "
        "If anything hurts, tingles or goes numb, stop for the day and see a clinician."
    ),
    "missed_note": "Practise this hand change alone, slowly, a few times, and then put it back in its place.",
    "uneven_above_tempo": "Stay just under this tempo until it is easy; then go up in small steps.",
    "hurrying": "Play with the click on every beat, then on every second bar only, and count aloud.",
    "dragging": "Play with the click on every beat, let the stick rebound by itself, and count aloud.",
    "late_hand": "Let the {hand} hand lead for a while, slowly, its stick ready before its turn.",
    "early_hand": "Slow down, leave the {hand} hand up a little longer, and listen to the click.",
    "wandering_hand": "Play the {hand} hand alone to a slow click until it settles; then add the {other}.",
    "uneven_double": "Play slow doubles with two full wrist turns, evenly, before letting them bounce.",
    "weak_second": "Accent the second note of each double, slowly, with the fingers closing on it.",
    "weak_hand": "Begin with the {hand} hand, both sticks from the same height, and listen for one sound.",
    "accents_flat": "Lift higher for the accents and play the rest low: two clear stick heights, slowly.",
    "taps_high": "Keep the stick low right after each accent, so that the next note starts near the pad.",
    "flam_flat": "Start the grace note lower and the main note higher; both sticks fall together.",
    "flam_wide": "Bring the grace note's stick nearer to the pad, to land just ahead of the main note.",
    "cannot_tell": "Play it again the same way, for longer.",
    "even": "Keep this, and go a little faster, or softer.",
}

BOTH_HANDS: Mapping[FindingKind, str] = {
    "early_hand": "Count the notes between the clicks aloud, and let the click cover the stroke.",
    "late_hand": "Count the notes between the clicks aloud, and have the sticks up before each click.",
}

ORDER: Mapping[FindingKind, int] = {kind: rank for rank, kind in enumerate(REMEDIES)}
