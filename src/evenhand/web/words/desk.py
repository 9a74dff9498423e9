"""Words of the teacher's day, in ``views/desk.py``, and with them those of the path and the settings."""

from __future__ import annotations

from evenhand.web.words import settings

WORDS: dict[str, str | tuple[str, str]] = {
    **settings.WORDS,
    "desk.title": "Today",
    "desk.lessons": ("One lesson today.", "{n} lessons today."),
    "desk.no_lessons": "No lesson today.",
    "desk.came": ("One take has come in since {since}.", "{n} takes have come in since {since}."),
    "desk.none_came": "No take has come in since {since}.",
    "desk.waits": ("One is still to be heard.", "{n} are still to be heard."),
    "desk.day_today": "Today",
    "desk.day_tomorrow": "Tomorrow, {day}",
    "desk.day_none": "No lesson day set",
    "desk.next": "next",
    "desk.no_time": "no time",
    "desk.hear": "Hear it first",
    "desk.what": "{exercise}, {tempo}",
    "desk.when_today": "today, {clock}",
    "desk.when_yesterday": "yesterday, {clock}",
    "desk.when_day": "{day}, {clock}",
    "desk.small_key": "Beside each name: one stick for each take of the last seven days. The "
    "small picture is the take to hear first: each row a repetition, right hand / and left hand "
    "\\, late is right, louder is longer, and the pale band is what an ear can't tell.",
    "desk.missed_week": "Nothing came in this week.",
    "desk.last_take": "The last heard take is of {day}.",
    "desk.no_take": "No take yet.",
    "desk.none_read": "This cannot be shown here; open the take.",
    "desk.nothing_found": "Nothing stands out.",
    "desk.line_waits": ("One take is being heard.", "{n} takes are being heard."),
    "desk.line_failed": ("One take could not be heard", "{n} takes could not be heard"),
    "desk.consent": "No recordings yet: consent is missing.",
    "desk.first_title": "A new studio",
    "desk.first_words": "Three steps, a minute each:",
    "desk.first_1": "Add a student",
    "desk.first_1_words": "with the stage and the lesson's day. Many at once come from a table.",
    "desk.first_2": "Give the private link",
    "desk.first_2_words": "as a message, or let the phone's camera read its code. The student "
    "needs no password.",
    "desk.first_3": "Set the first week",
    "desk.first_3_words": "It is proposed from the stage; change what you like, print it or send it.",
    "desk.first_more": "Whatever the student then plays and records is heard here, and found on "
    "this page before the next lesson. The studio's name is in the settings.",
}
