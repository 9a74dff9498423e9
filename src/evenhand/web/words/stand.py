"""Words of the pages in ``views/stand.py``; the scripts' own are under ``stand.js``."""

from __future__ import annotations

WORDS: dict[str, str | tuple[str, str]] = {
    "stand.today": ("Today, one minute", "Today, {n} minutes"),
    "stand.day": ("Day {day}, one minute", "Day {day}, {n} minutes"),
    "stand.next_week": ("Your next practice, one minute", "Your next practice, {n} minutes"),
    "stand.last_week": ("Last week's practice, one minute", "Last week's practice, {n} minutes"),
    "stand.old_week": ("Your practice from {on}, one minute", "Your practice from {on}, {n} minutes"),
    "stand.of_days": "Day {day} of {of}, for {on}.",
    "stand.early": "Day {day} of {of}, for {on}. You may begin early.",
    "stand.over": "Day {day} of {of}. The new practice comes after your lesson.",
    "stand.over_newer": "Day {day} of {of}.",
    "stand.free_day": "Nothing new is planned for today. Go on with day {day} of {of}.",
    "stand.free_day_ahead": "Nothing is planned for today. You may begin day {day} of {of} early.",
    "stand.beside_next": "Your next practice is here, from {starts} on",
    "stand.beside_this": "This week's practice",
    "stand.beside_last": "Last week's practice",
    "stand.played": "{done} of {of} played",
    "stand.all_done": "All of this day's practice is played. Anything more is up to you.",
    "stand.more_items": ("1 more", "{n} more"),
    "stand.next_items": "After that",
    "stand.items": "This day's practice",
    "stand.item_done": "played",
    "stand.other_days": "Other days of this week",
    "stand.day_link": "Day {day}",
    "stand.sheet": "The week's sheet (PDF)",
    "stand.takes": "Your recordings",
    "stand.no_takes": "Nothing recorded yet.",
    "stand.leave": "Log out",
    "stand.left": "You are logged out",
    "stand.left_words": "To come back, open the link from your teacher again.",
    "stand.back": "Today's practice",
    "stand.no_week": "Nothing is assigned yet",
    "stand.no_week_words": (
        "Your teacher has not sent a week's practice so far. Until it is here you can record anything"
        " you are working on."
    ),
    "stand.bad_week": "This week's practice cannot be read",
    "stand.bad_week_words": (
        "Tell your teacher, please. Until then you can record anything you are working on."
    ),
    "stand.from_teacher": "From your teacher",
    "stand.free": "Something else",
    "stand.free_lead": "Play any exercise, as long as you like.",
    "stand.free_book": "From the book",
    "stand.free_choose": "– choose –",
    "stand.free_typed": "Or type it",
    "stand.free_exercise": "Exercise",
    "stand.free_wrong": ("The exercise cannot be read: character {place} is {found}. It must be {must_be}."),
    "stand.free_hint": "Such as 1/8: RLRR LRLL. R and L are notes, > is an accent.",
    "stand.free_tempo": "Tempo",
    "stand.free_tempo_hint": "A number alone counts the exercise's own beat; 1/4 = 80 counts quarter notes.",
    "stand.stroke": "Stroke height",
    "stand.free_go": "Put it on the stand",
    "stand.free_none": "Choose an exercise from the book, or type one.",
    "stand.consent": (
        "You can record once your teacher has noted that a parent or guardian agrees. The click works "
        "already."
    ),
    "stand.start": "Start click and recording",
    "stand.without": "Without recording",
    "stand.discard": "Stop, don't send",
    "stand.recording": "Recording",
    "stand.script": (
        "Click and recording need JavaScript. Without it, record with another app and upload the file below."
    ),
    "stand.slower": "Slower",
    "stand.faster": "Faster",
    "stand.tempo": "Tempo",
    "stand.click": "Click",
    "stand.click_room": "in the room",
    "stand.click_headphones": "headphones",
    "stand.click_count-in": "count-in",
    "stand.click_off": "off",
    "stand.click_caution": "Loud sound harms hearing: keep the click as low as you can still play to it.",
    "stand.volume": "Click volume",
    "stand.settings": "Headphones and microphone",
    "stand.delay": "Delay of this device",
    "stand.delay_words": (
        "With the click in headphones, a note can be called early or late only when the delay of this "
        "device is known. Measure it once: the loudspeaker plays eight clicks, and the microphone hears "
        "them. Unplug the headphones, and keep quiet for five seconds."
    ),
    "stand.delay_bluetooth": (
        "Wireless headphones have their own delay, which cannot be measured here: with them, early"
        " and late stay unknown."
    ),
    "stand.delay_measure": "Measure the delay",
    "stand.upload": "Upload a recording",
    "stand.upload_words": "A sound or video file of this exercise, from any recorder.",
    "stand.upload_file": "File",
    "stand.upload_send": "Send it",
    "stand.upload_none": "Choose a file first.",
    "stand.upload_kind": "A recording must be a sound, video or MIDI file; this is {kind}.",
    "stand.live_full": "Too many play at this moment to hear you live. Your recording goes on.",
    "stand.live_behind": "This came faster than it can be heard live. Your recording goes on.",
    "stand.live_out": "You are logged out.",
    "stand.no_room": (
        "There is no room for more of your recordings here. Tell your teacher. This one stays on this device."
    ),
    "stand.sent": "It has arrived.",
    "stand.kept": "Kept on this device",
    "stand.again": "Again",
    "stand.next": "Next",
    "stand.rest": "Rest {rest}. Then again, or on to the next.",
    "stand.heard_title": "What was heard",
    "stand.listen": "Listen to it",
    "stand.not_heard_yet": "It has arrived and is being heard.",
    "stand.waiting": "waiting to be heard",
    "stand.hearing": "being heard",
    "stand.failed": "could not be heard",
    "stand.failed_words": "It could not be heard. {reason}",
    "stand.blind": "without an exercise",
    "stand.teacher_says": "Your teacher says",
    "stand.offset_unknown": (
        "Offset unknown: the click was in your headphones, and the delay of this device has not been "
        "measured. So nothing is called early or late against the click; your hands are compared with "
        "each other."
    ),
    "stand.space": "Space starts and stops.",
    "stand.js.live_caption": (
        "As it is heard: each stick a hit, / right and \\ left, under its note; left of the line "
        "early, right late."
    ),
    "stand.js.played": "{done} of {of} played",
    "stand.js.start": "Start click and recording",
    "stand.js.start_click": "Start the click",
    "stand.js.start_silent": "Start recording",
    "stand.js.stop": "Stop",
    "stand.js.stop_send": "Stop and send",
    "stand.js.recording": "Recording",
    "stand.js.told": (
        "Your microphone is on while you play, and the studio listens to draw your hits. When you stop,"
        " the recording goes to your teacher."
    ),
    "stand.js.told_again": "When you stop, the recording goes to your teacher.",
    "stand.js.told_click": "Nothing is recorded.",
    "stand.js.told_running": "When it stops, the recording goes to your teacher.",
    "stand.js.discarded": "Not sent. The recording is deleted.",
    "stand.js.hears_wait": "Listening …",
    "stand.js.hears": "The microphone hears sound.",
    "stand.js.hears_nothing_yet": "The microphone hears nothing yet.",
    "stand.js.hears_nothing": "The microphone hears nothing. Is it covered, or switched off?",
    "stand.js.opening": "Opening the microphone …",
    "stand.js.counting": "Count-in",
    "stand.js.playing": "Recording, repetition {n} of {of}",
    "stand.js.playing_free": "Recording, repetition {n}",
    "stand.js.clicking": "The click runs. Nothing is recorded.",
    "stand.js.stopped": "Stopped.",
    "stand.js.sending": "Sending. The recording is kept on this device until it has arrived.",
    "stand.js.offline": (
        "No connection. The recording is kept on this device until it has arrived; it is sent by itself."
    ),
    "stand.js.hearing": "It has arrived. Listening …",
    "stand.js.waiting": "It has arrived, and is listened to when its turn comes. You may go on.",
    "stand.js.heard": "Heard.",
    "stand.js.failed": "It could not be heard. {reason}",
    "stand.js.short": "Too short to keep: it was under two seconds.",
    "stand.js.silent": "Nothing but silence came from the microphone. Is it covered, or switched off?",
    "stand.js.clipped": "The microphone was too near or too loud for some hits: move it away a little.",
    "stand.js.interrupted": "The recording was interrupted. What was played until then is kept.",
    "stand.js.mic_refused": (
        "The microphone is not allowed for this page. Allow it in the browser's settings for this "
        "address, then start again; or record with another app and upload the file."
    ),
    "stand.js.mic_none": (
        "No microphone was found. Plug one in, or record with another device and upload the file."
    ),
    "stand.js.mic_busy": (
        "The microphone is in use by another app or page. Close that, then start again; or upload a file."
    ),
    "stand.js.mic_tab": "Another page of the stand is recording. Stop it there first.",
    "stand.js.mic_insecure": (
        "This address is not encrypted, so the browser gives no microphone to it. Record with another"
        " app and upload the file, or ask your teacher for the address that begins with https."
    ),
    "stand.js.mic_other": "The microphone did not open ({reason}). You can upload a file.",
    "stand.js.without": "Play without recording",
    "stand.js.kept_one": "{length} of {what}, {when}",
    "stand.js.kept_broken": "This recording broke off. It is kept on this device.",
    "stand.js.kept_waiting": "Kept on this device until it has arrived.",
    "stand.js.kept_refused": "It was not taken: {reason}",
    "stand.js.kept_session": "Open the link from your teacher again; then it is sent.",
    "stand.js.kept_sent": "It has arrived.",
    "stand.js.send": "Send",
    "stand.js.discard": "Discard",
    "stand.js.save": "Save as a file",
    "stand.js.look": "See what was heard",
    "stand.js.memory_only": (
        "This browser keeps nothing: the recording is lost if you close the page before it has arrived."
    ),
    "stand.js.offset_unknown": "offset unknown",
    "stand.js.offset_note": "Offset unknown: drawn around your own middle, neither early nor late.",
    "stand.js.offset": "{ms} ms (± {spread} ms, {n} clicks)",
    "stand.js.offset_known": "{ms} ms",
    "stand.js.delay_playing": "Eight clicks. Quiet, please.",
    "stand.js.delay_done": "Measured.",
    "stand.js.delay_unclear": (
        "The clicks were not heard clearly ({n} of 8). Turn the loudspeaker up a little, take "
        "headphones off, and try again."
    ),
    "stand.js.delay_unsaved": "Measured, but it could not be saved. Try again.",
    "stand.js.upload_sending": "Sending the file …",
    "stand.js.no_connection": "no connection",
}
