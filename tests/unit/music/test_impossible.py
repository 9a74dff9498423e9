"""Where there is no sticking as asked for, the reason is said, and it is the reason.

Expected sentences were worked by hand: the counts in them are binomials and Fibonacci numbers.
"""

from __future__ import annotations

import pytest

from evenhand.music.writing.generation import conflict_in
from evenhand.music.writing.properties import Span, StickingQuery
from evenhand.report.words.exercises import why_none


@pytest.mark.parametrize(
    ("wanted", "why"),
    [
        pytest.param(
            StickingQuery(8, longest_run=1, rights=Span(6, 6)),
            "With 8 notes, no run over 1 and 6 rights do not go together. With no run over 1, there are 4 "
            'rights. Leave out "no run over 1", and there are 28; leave out "6 rights", and there are 2.',
            id="8 over 6 is 28; RLRL and LRLR are 2",
        ),
        pytest.param(
            StickingQuery(7, balanced=True),
            "No sticking of 7 notes has as many rights as lefts: an odd number of notes cannot be shared "
            "evenly.",
            id="odd",
        ),
        pytest.param(
            StickingQuery(7, balanced=True, mirrored_halves=True),
            "No sticking of 7 notes has the second half the mirror of the first: an odd number of notes has "
            "no halves. To leave out any one of what was asked is not enough.",
            id="two reasons of their own",
        ),
        pytest.param(
            StickingQuery(8, rights=Span(9, 9)),
            "No sticking of 8 notes has 9 rights. There are 0 to 8 rights.",
            id="more than there are notes",
        ),
        pytest.param(
            StickingQuery(8, mirrored_halves=True, rights=Span(5, 6), lead="R"),
            "With 8 notes, the second half the mirror of the first and 5 to 6 rights do not go together. "
            "With the second half the mirror of the first, there are 4 rights. "
            'Leave out "the second half the mirror of the first", and there are 56; '
            'leave out "5 to 6 rights", and there are 8.',
            id="7 over 4 and 7 over 5 are 35 and 21; 2^3 halves that lead with the right are 8",
        ),
        pytest.param(
            StickingQuery(5, longest_run=1, around=True),
            "No sticking of 5 notes has no run over 1 around the repeat. "
            "The longest run around the repeat is 2, 3, 4 or without end.",
            id="an odd circle cannot alternate",
        ),
        pytest.param(
            StickingQuery(4, mirrored_halves=True, longest_run=1),
            "With 4 notes, the second half the mirror of the first and no run over 1 do not go together. "
            "With the second half the mirror of the first, the longest run is 2. "
            'Leave out "the second half the mirror of the first", and there are 2; '
            'leave out "no run over 1", and there are 4.',
            id="RRLL, RLLR and these swapped are the mirrored ones",
        ),
        pytest.param(
            StickingQuery(1, ends="other"),
            "No sticking of 1 note has the last note by the hand that does not lead: the first note is the "
            "last.",
            id="one note",
        ),
        pytest.param(
            StickingQuery(6, weak_percent=Span(80), longest_run=1),
            "With 6 notes, no run over 1 and 80 % or more of the notes by the left hand do not go together. "
            "With no run over 1, there are 3 lefts. "
            'Leave out "no run over 1", and there are 7; '
            'leave out "80 % or more of the notes by the left hand", and there are 2.',
            id="5 or 6 lefts of 6: 6 + 1",
        ),
        pytest.param(
            StickingQuery(4, lead="R", ends="other", longest_run=3, rights=Span(4)),
            "With 4 notes, the last note by the hand that does not lead and 4 or more rights do not go "
            "together. With the last note by the hand that does not lead, there are 1 to 3 rights. "
            'Leave out "4 or more rights", and there are 4.',
            id="R..L are 4; to give up the end leaves RRRR, a run of 4",
        ),
    ],
)
def test_the_reason_is_said(wanted: StickingQuery, why: str) -> None:
    conflict = conflict_in(wanted)
    assert conflict is not None
    assert why_none(conflict) == why


def test_there_is_no_reason_where_there_are_some() -> None:
    assert conflict_in(StickingQuery(8, longest_run=2, balanced=True)) is None
    assert conflict_in(StickingQuery(3)) is None
