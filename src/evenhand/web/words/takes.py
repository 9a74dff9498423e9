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
    "takes.waiting_words": "It is here and is heard by itself; this page fills in as soon as it is.",
    "takes.waiting_again": "Hearing it broke off and starts again: try {tried} of 3.",
    "takes.hearing": "Being heard now",
    "takes.hearing_words": "{percent} % done.",
    "takes.failed": "This take could not be heard",
    "takes.failed_do": (
        "Listen to the recording. If the hits are there, have it heard again, with another exercise "
        "or tempo if those are not what was played. If not, delete it and have it recorded anew."
    ),
    "takes.again_soon": "It is being heard again. Until then, this is what was heard before.",
    "takes.again_failed": "It could not be heard again: {reason} What was heard before stands.",
    "takes.found_again": (
        "The recording was found again on {day}, without what was heard. "
        "Check whose it is and what was played."
    ),
    "takes.no_recording": "There is no sound to play: it came as MIDI.",
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
        "Offset unknown: the click was in headphones and the delay of the device was not measured, so early "
        "and late against the click cannot be told; how the hands stand to each other can."
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
    "takes.words_hint": "They stand on the student's page of this take.",
    "takes.model": "The model for this exercise: {name} hears it as how it should sound",
    "takes.save": "Save",
    "takes.saved": "Saved.",
    "takes.words_long": "At most {most} letters, please; these are {got}. Shorten them: nothing was lost.",
    # beside
    "takes.beside": "Beside another take",
    "takes.beside_none": "No other heard take of this exercise yet.",
    "takes.beside_model": "the model",
    "takes.beside_title": "Two takes side by side",
    "takes.beside_first": "first",
    "takes.beside_second": "second",
    "takes.beside_swap": "The other way round",
    "takes.differences": "In what they differ",
    "takes.differences_caption": (
        "Second minus first, each figure with its 95 % range. A whole range on one side of nought is "
        "more than chance within these two takes; a player's form on the day comes on top, so look at "
        "several days before you believe a small one."
    ),
    "takes.figure": "figure",
    "takes.difference": "difference",
    "takes.interval": "95 % range",
    "takes.n": "from",
    "takes.told": "more than chance?",
    "takes.told_more": "yes, more",
    "takes.told_less": "yes, less",
    "takes.told_nearer": "yes, nearer to nought",
    "takes.told_further": "yes, further from nought",
    "takes.told_changed": "yes, to the other side",
    "takes.told_cant": "can't tell",
    "takes.lacking": "Too few hits to compare: {names}.",
    "takes.unlike_exercise": "The exercises differ: only what both have is compared.",
    "takes.unlike_tempo": "The tempos differ: at a faster tempo hands scatter differently.",
    "takes.unlike_hands": "One of the takes does not tell which hand is which: what is said of a hand may be "
    "of the other.",
    "takes.unlike_nothing": "One of the takes was heard without its exercise: no figures to compare.",
    "takes.unlike_scale": (
        "The two pictures magnify time differently, each so that its hits fit: compare the bars of ms under "
        "them, or the figures."
    ),
    "takes.not_both_heard": "Both takes must be heard first.",
    # correcting
    "takes.correct": "Correct a hit",
    "takes.correct_lead": (
        "Where the ear took something else for a hit, or a hit for another note. Choose the hit here "
        "or in the picture; everything is measured again."
    ),
    "takes.correct_this": "Correct this hit",
    "takes.hit": "The hit",
    "takes.hit_row": "repetition {n}",
    "takes.is_no_hit": "is no hit: take it out",
    "takes.is_extra": "is an extra hit, no note's",
    "takes.is_note": "is this note's:",
    "takes.repetition": "repetition",
    "takes.note": "note",
    "takes.grace": "as its grace note",
    "takes.put_right": "Correct it",
    "takes.put_right_done": "Corrected, and measured again.",
    "takes.correct_back": "To get back what the ear heard, have the take heard again.",
    # hearing again
    "takes.again": "Have it heard again",
    "takes.again_lead": "As another exercise, or at another tempo, where that is what was played.",
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
    "takes.whose": "Whose playing it is",
    "takes.whose_mine": "mine, as the model",
    "takes.whose_student": "{name}'s",
    "takes.recorded_on": "Recorded on",
    "takes.stroke": "Stroke height",
    "takes.send": "Add it",
    "takes.no_file": "Choose a file with the recording. What you typed is still here.",
    "takes.wrong_kind": "{name} is no sound or video file ({kind}). Choose a recording.",
    "takes.no_consent": (
        "{name} is under age: note first, on the student's page, that a parent or guardian agrees."
    ),
    # deleting
    "takes.delete": "Delete this take",
    "takes.delete_words": "The recording, what was heard and your words are gone for good.",
    "takes.delete_sure": "Yes, delete it",
    "takes.delete_go": "Delete for good",
    "takes.delete_confirm": "Tick that you mean it; nothing was deleted.",
    "takes.deleted": "The take is deleted.",
}
