"""What body and ears need, in one set of words for every page, sheet and command.

To whom they speak: ``PRACTICE_CAUTION`` to the student, ``TEACHER_CAUTION`` to the teacher about a student;
the others to whoever plays. None of them is a diagnosis.
"""

from __future__ import annotations

PAIN = "Pain, numbness or tingling: stop, rest, and see a clinician."
HEARING = "Loud clicks and drums harm hearing: keep the click low, use a pad or ear protection."
CLICK_CAUTION = (
    "Loud clicks harm hearing, on headphones most of all: set it low, then only as loud as you need."
)
PLAYING_CAUTION = f"{PAIN} {HEARING}"
PRACTICE_CAUTION = f"{PLAYING_CAUTION} Let the load rise gradually. Your teacher decides."
EXERCISES_CAUTION = f"{PLAYING_CAUTION} Let the load rise gradually. The teacher decides."
TEACHER_CAUTION = (
    "A student with pain, numbness or tingling stops, rests, and sees a clinician. "
    "Loud clicks and drums harm hearing: have them keep the click low, and use a pad or ear protection. "
    "Let the load rise gradually. You decide."
)
DROP_CAUTION = f"Drop the stick from the same height each time, the hand open and loose. {PLAYING_CAUTION}"
MINUTE_CAUTION = f"Only as fast as the hands stay loose. {PLAYING_CAUTION}"
