"""All words of the studio's pages in one catalogue, so that another language can be put beside it.

Conventions: a key is ``place.thing``; ``say("desk.takes", n=3)`` fills in. Where a count decides
between one and many, the text is a pair (one, many) and the count is ``n``. Each place has a module
of its own texts under ``web/words``.
"""

from __future__ import annotations

from evenhand.web.words import access, book, desk, doors, stand, students, takes, week

Text = str | tuple[str, str]

TEXTS: dict[str, Text] = {
    **doors.WORDS,
    **access.WORDS,
    **desk.WORDS,
    **students.WORDS,
    **takes.WORDS,
    **week.WORDS,
    **book.WORDS,
    **stand.WORDS,
}


def say(key: str, /, **facts: object) -> str:
    """Return a text, filled in.

    >>> say("doors.password")
    'Password'
    """
    text = TEXTS[key]
    if isinstance(text, tuple):
        text = text[0] if facts.get("n") == 1 else text[1]
    return text.format(**facts) if facts else text
