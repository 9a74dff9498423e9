"""Words of the pages in ``views/takes.py``."""

from __future__ import annotations

WORDS: dict[str, str | tuple[str, str]] = {
    "takes.title": "A take",
    "takes.when": "{day}, {time}",
    "takes.from_microphone": "recorded on the stand",
    "takes.from_upload": "uploaded",
    "takes.from_teacher": "your own",
    "takes.is_model": "the model for this exercise",
    "takes.blind": "no exercise was named",
    "takes.earlier": "The take before",
    "takes.later": "The take after",
    "takes.neighbours": "Other takes",
    # still to be heard
    "takes.waiting": "Waiting to be heard",
    "takes.waiting_words": "It is in the queue; this page shows what was heard as soon as it is ready.",
    "takes.waiting_again": "The hearing broke off and has started again: try {tried} of 3.",
    "takes.hearing": "Being heard now",
    "takes.hearing_words": "{percent} % done.",
    "takes.failed": "This take could not be heard",
    "takes.failed_do": (
        "Listen to the recording. If you can hear the playing, have it heard again, with the right exercise "
        "and tempo. If not, delete it and ask for a new recording."
    ),
    "takes.again_soon": "It is being heard again. Until then, here is what was heard before.",
    "takes.again_soon_as": (
        "It is being heard again, as {exercise} at {tempo}. Until then, here is what was heard before."
    ),
    "takes.again_failed": "It could not be heard again: {reason} Here is what was heard before.",
    "takes.found_again": (
        "The recording was found again on {day}, without what was heard. "
        "Check whose it is and what was played."
    ),
    "takes.give": "Whose it is",
    "takes.give_lead": "Listen to the recording, and choose the student who played it.",
    "takes.give_student": "Student",
    "takes.give_go": "Give it to this student",
    "takes.given": "The take is with {name} now.",
    "takes.no_recording": "There is no sound to play: it is a MIDI file.",
    # sound
    "takes.sound": "The recording",
    "takes.place": "Place in the recording",
    "takes.place_hint": (
        "Click on a note to hear it from there. With the keyboard: arrow keys choose a note and a "
        "repetition, Enter plays, L loops that repetition."
    ),
    "takes.play_here": "Play from here",
    "takes.stop": "Stop",
    "takes.loop": "Loop this repetition",
    "takes.slower": "At",
    "takes.full_speed": "full speed",
    "takes.three_quarters": "three quarters",
    "takes.half_speed": "half speed",
    "takes.at_place": "repetition {row}, note {note} ({hand}), {seconds} s",
    "takes.rows": "Every repetition",
    "takes.play_row": "Repetition {n}",
    "takes.row_from": "from {start} s",
    # what was heard
    "takes.offset_unknown": (
        "Offset unknown: the click was in headphones, and the delay of the device was not measured. So "
        "nothing is called early or late against the click; the hands are compared with each other."
    ),
    "takes.heard": "What was heard",
    "takes.care": "Take care",
    "takes.figures": "The figures",
    "takes.method": "How it was measured",
    "takes.corrected": ("You corrected one hit by hand.", "You corrected {n} hits by hand."),
    "takes.json": "The figures as JSON",
    # the teacher's words
    "takes.words": "Your words to {name}",
    "takes.words_own": "Your words",
    "takes.words_hint": "{name} sees them beside this take.",
    "takes.model": "The model for this exercise: {name} can listen to how it should sound",
    "takes.save": "Save",
    "takes.saved": "Saved.",
    "takes.words_long": "At most {most} characters; these are {got}. Shorten them: they are still here.",
    # beside
    "takes.beside": "Beside another take",
    "takes.beside_none": "No other heard take of this exercise yet.",
    "takes.beside_model": "the model",
    "takes.beside_title": "Two takes side by side",
    "takes.beside_first": "first",
    "takes.beside_second": "second",
    "takes.beside_swap": "The other way round",
    "takes.differences": "The differences",
    "takes.differences_caption": (
        "Second minus first, each figure with its 95 % range. Where the whole range lies on one side of "
        "zero, the difference is more than chance within these two takes. Form on the day adds to it: "
        "before you believe a small one, look at several days."
    ),
    "takes.figure": "figure",
    "takes.difference": "difference",
    "takes.interval": "95 % range",
    "takes.n": "from",
    "takes.told": "more than chance?",
    "takes.told_more": "yes, more",
    "takes.told_less": "yes, less",
    "takes.told_nearer": "yes, closer to zero",
    "takes.told_further": "yes, further from zero",
    "takes.told_changed": "yes, to the other side",
    "takes.told_cant": "can't tell",
    "takes.lacking": "Too few hits to compare: {names}.",
    "takes.unlike_exercise": "The exercises differ: only what both have is compared.",
    "takes.unlike_tempo": "The tempos differ, and spreads change with the tempo.",
    "takes.unlike_hands": (
        "In one of the takes it is not sure which hand is which: a figure of one hand may be the other's."
    ),
    "takes.unlike_nothing": "One of the takes was heard without its exercise: no figures to compare.",
    "takes.unlike_scale": (
        "The two pictures magnify time differently, so that all hits fit: compare the ms bars under them, or "
        "the figures."
    ),
    "takes.not_both_heard": "Both takes must be heard first.",
    # correcting
    "takes.correct": "Correct a hit",
    "takes.correct_lead": (
        "Where something else was taken for a hit, or a hit was given to the wrong note. Choose the hit here "
        "or in the picture; everything is then measured again."
    ),
    "takes.correct_this": "Correct this hit",
    "takes.hit": "The hit",
    "takes.hit_row": "repetition {n}",
    "takes.is_no_hit": "is not a hit: remove it",
    "takes.is_extra": "is an extra hit, of no note",
    "takes.is_note": "belongs to the note below",
    "takes.begins_here": "is the first note: it begins here. The take is heard again from this hit on",
    "takes.is_added": "None of these: a hit was not heard. Add it to the note below,",
    "takes.added_at": "at (seconds)",
    "takes.repetition": "repetition",
    "takes.note": "note",
    "takes.grace": "as its grace note",
    "takes.put_right": "Correct it",
    "takes.put_right_done": "Corrected, and measured again.",
    "takes.correct_back": "To undo all corrections, have the take heard again.",
    # hearing again
    "takes.again": "Have it heard again",
    "takes.again_lead": "If another exercise or tempo was played, set it here.",
    "takes.again_corrected": "Your corrections are then gone.",
    "takes.exercise": "Exercise",
    "takes.tempo": "Tempo",
    "takes.click": "Click",
    "takes.click_auto": "look for one",
    "takes.click_heard": "it can be heard in the recording",
    "takes.click_none": "none in the recording",
    "takes.again_go": "Hear it again",
    # uploading
    "takes.upload": "Add a recording of your own",
    "takes.upload_title": "Add a recording",
    "takes.upload_lead": "Play the exercise as it should sound; {name} can listen to it beside their own.",
    "takes.file": "Sound or video file",
    "takes.whose": "Who plays",
    "takes.whose_mine": "mine, as the model",
    "takes.whose_student": "{name}'s",
    "takes.recorded_on": "Recorded on",
    "takes.stroke": "Stroke height",
    "takes.send": "Add it",
    "takes.no_file": "Choose a file with the recording. What you typed is still here.",
    "takes.wrong_kind": "{name} is not a sound or video file ({kind}). Choose a recording.",
    "takes.no_consent": (
        "{name} is under age. First note on the student's page that a parent or guardian agrees."
    ),
    # deleting
    "takes.delete": "Delete this take",
    "takes.delete_words": "The recording, what was heard and your words are gone for good.",
    "takes.delete_sure": "Yes, delete it",
    "takes.delete_go": "Delete for good",
    "takes.delete_confirm": "Tick the box first. Nothing was deleted.",
    "takes.deleted": "The take is deleted.",
}
