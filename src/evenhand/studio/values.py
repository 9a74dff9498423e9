"""A studio: one teacher's students, their weeks, their takes, their links.

Conventions: ids are random text, never counted up; moments are aware datetimes in UTC;
days are dates. What was heard is kept as the JSON of docs/json.md. ``upload_key`` is chosen
by the device that recorded, so that a take that is sent twice is kept once.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Literal

TakeStatus = Literal["waiting", "hearing", "heard", "failed"]
TakeSource = Literal["microphone", "upload", "teacher"]
Urgency = Literal["lesson", "student", "batch"]  # who waits for a take, the most urgent first
Role = Literal["teacher", "student"]
LinkOpens = Literal["stand", "days"]  # the student's stand; or, to a parent, days and minutes alone
Actor = Literal["teacher", "student", "substitute", "administrator", "nobody"]
ActKind = Literal[  # each is said in web/views/access.py
    "login",
    "login refused",
    "logout",
    "recovery code used",
    "password changed",
    "second factor on",
    "second factor off",
    "recovery codes made",
    "session ended",
    "everybody out",
    "link made",
    "link opened",
    "link revoked",
    "student exported",
    "student added",
    "student changed",
    "student left",
    "student back",
    "student erased",
    "student moved",
    "substitute changed",
    "substitute came",
    "feed made",
    "feed withdrawn",
    "report printed",
    "studio exported",
    "table exported",
    "settings changed",
    "path changed",
    "book changed",
    "rudiment signed",
    "week saved",
    "week sent",
    "week discarded",
    "take sent",
    "take words",
    "words said",
    "words taken back",
    "take corrected",
    "take heard again",
    "take given",
    "take deleted",
    "take listened to",
    "lesson changed",
    "video deleted",
    "device measured",
    "changed",
]


TEACHER = "teacher"  # the id of who the teacher's own takes for all students belong to
GRIP = "grip"  # among a take's facts: the grip of its drops, as the student named it
BEGINS_AT = "begins_at_s"  # among a take's facts: where the teacher says that it begins
IN_LESSON = "lesson"  # the same: recorded in a lesson, on the teacher's device
VERSION = "version"  # the same: since when another version of what was heard is the one that is shown


@dataclass(frozen=True, slots=True)
class StudioFacts:
    """What a studio is called, and whether it is the demonstration with invented people."""

    name: str
    demo: bool
    created_at: datetime
    unit: Literal["in", "cm"] = "in"
    keep_originals: bool = False
    keep_videos: bool = False
    language: str = "en"
    path: str = ""  # TOML of a path of one's own; "" is the usual one
    lesson_minutes: int = 45  # as the calendar to subscribe to has them
    feed_made_at: datetime | None = None  # the address of that calendar; None where there is none


@dataclass(frozen=True, slots=True)
class Student:
    """One student. ``consent_by`` names who agreed for a minor, and ``consent_on`` when."""

    id: str
    name: str
    stage: str
    created_at: datetime
    minor: bool = False
    consent_by: str = ""
    consent_on: date | None = None
    lesson_day: int | None = None  # 0 Monday to 6 Sunday
    lesson_time: str = ""  # "16:30"
    notes: str = ""
    minutes_a_day: float = 20.0
    days_a_week: int = 5
    archived: bool = False
    signed_off: str = ""  # a line for each tempo of a rudiment that the teacher signed off (studio.signed)

    @property
    def may_record(self) -> bool:
        """Tell whether recordings may be taken: for a minor only with consent."""
        return not self.minor or bool(self.consent_by)


@dataclass(frozen=True, slots=True)
class StudentLink:
    """A private link; its secret is kept only as a hash."""

    id: str
    student_id: str
    created_at: datetime
    expires_at: datetime
    revoked_at: datetime | None = None
    last_used_at: datetime | None = None
    opens: LinkOpens = "stand"


@dataclass(frozen=True, slots=True)
class Session:
    """Who is there: a teacher, one student, or a school's administrator."""

    id: str
    role: Role | Literal["administrator"]
    student_id: str | None
    csrf: str
    expires_at: datetime
    stands_in_for: str = ""  # the teacher in whose place another one is there for some days


@dataclass(frozen=True, slots=True)
class OpenSession:
    """Somebody who is in, as a list shows it: since when, seen when, by which browser."""

    id: str
    role: Role
    student_id: str | None
    expires_at: datetime
    began_at: datetime | None = None
    seen_at: datetime | None = None
    browser: str | None = None


@dataclass(frozen=True, slots=True)
class Act:
    """Who did what, for the log; ``about`` is a student's id, never a name.

    ``thing`` is what it was done to, such as ``take 3f0c…``. ``address`` is a whole one where somebody
    came in or tried to, else its class: this computer, this network, elsewhere.
    """

    at: datetime
    what: ActKind
    who: Actor
    about: str = ""
    thing: str = ""
    address: str = ""


@dataclass(frozen=True, slots=True)
class Week:
    """What was assigned for one week. ``plan`` is the plan's JSON (docs/plan.md)."""

    id: str
    student_id: str
    starts: date
    stage: str
    plan: str
    words: str = ""
    created_at: datetime | None = None
    sent_at: datetime | None = None  # None: still the teacher's draft


@dataclass(frozen=True, slots=True)
class WeekDraft:
    """A week's form as it was typed and not saved yet. ``form`` is its JSON.

    ``of_week`` is the id of the week that is changed, "" for a new one, or ``as:`` and the id of the one that
    it began as a copy of. ``page`` and ``stamp`` say which opened page sent it, and how many it sent before:
    so what is on its way late does not undo what came after it.
    """

    student_id: str
    of_week: str
    form: str
    changed_at: datetime
    page: str = ""
    stamp: int = 0


@dataclass(frozen=True, slots=True)
class StudioTake:
    """One recording and what became of it.

    ``heard`` is the JSON of what was heard, with the teacher's corrections in it where there
    are any (``corrected``); ``reason`` says why it could not be heard. ``recording`` and
    ``original`` are keys of the store of recordings. ``model`` marks the teacher's own take.
    """

    id: str
    student_id: str
    upload_key: str
    exercise: str
    tempo: str
    recorded_at: datetime
    received_at: datetime
    source: TakeSource
    status: TakeStatus
    name: str = ""
    stroke: str | None = None
    click: str = "auto"
    recording: str | None = None
    original: str | None = None
    seconds: float | None = None
    heard: str | None = None
    reason: str | None = None
    model: bool = False
    corrected: bool = False
    latency_ms: float | None = None  # of the device, None: offset unknown
    device_id: str | None = None
    tried: int = 0  # how often hearing was begun
    original_name: str = ""  # as the file was called where it came from; never a place of ours
    facts: dict[str, str] = field(default_factory=dict)  # what else came with it
    progress: float = 0.0  # while it is heard: the share done, 0 to 1
    listened_at: datetime | None = None  # when the teacher heard it; None: not yet
    urgency: Urgency = "student"
    set_aside_at: datetime | None = None  # when hearing it was given up; None again when that was seen to


@dataclass(frozen=True, slots=True)
class TakeOutline:
    """A take as far as a list of very many needs it; fields as in ``StudioTake``."""

    id: str
    student_id: str
    exercise: str
    tempo: str
    recorded_at: datetime
    received_at: datetime
    source: TakeSource
    status: TakeStatus
    model: bool
    corrected: bool
    click: str
    latency_ms: float | None
    recording: str | None
    seconds: float | None
    listened_at: datetime | None
    facts: dict[str, str]


@dataclass(frozen=True, slots=True)
class HeardVersion:
    """A version of what was heard of a take that is not the one shown, or one that is still to be heard.

    ``ear`` is the number of the ear, 0 where it had none. ``replaced_at`` is when it ceased to be the one
    that is shown; None: it never was.
    """

    id: str
    take_id: str
    ear: int
    status: TakeStatus
    asked_at: datetime
    heard: str | None = None
    seconds: float | None = None
    heard_at: datetime | None = None
    reason: str | None = None
    corrected: bool = False
    replaced_at: datetime | None = None
    tried: int = 0
    progress: float = 0.0


@dataclass(frozen=True, slots=True)
class LessonChange:
    """A lesson not as usual. ``day`` is when it would be, ``moved_to`` when it is; None: it is skipped.

    ``at`` is its time, "" where that stays.
    """

    id: str
    student_id: str
    day: date
    moved_to: date | None = None
    at: str = ""  # "16:30"
    why: str = ""


@dataclass(frozen=True, slots=True)
class Holiday:
    """Days without lessons and without practice asked for, both ends included; of one student, or of all."""

    id: str
    first: date
    last: date
    student_id: str | None = None
    name: str = ""


@dataclass(frozen=True, slots=True)
class Said:
    """One thing said between teacher and student, of a take or of a week.

    ``recording`` is the key of a spoken one, ``seconds`` how long it is. ``unclear``: what was said before is
    not understood. ``read_at`` is when who it is for opened it.
    """

    id: str
    student_id: str
    who: Role
    said_at: datetime
    take_id: str | None = None
    week_id: str | None = None
    text: str = ""
    unclear: bool = False
    recording: str | None = None
    seconds: float | None = None
    read_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Device:
    """A student's device and its input latency, once it was measured."""

    id: str
    student_id: str
    label: str
    latency_ms: float | None = None
    measured_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class BookEntry:
    """One exercise of the studio's book."""

    id: str
    text: str
    title: str = ""
    section: str = ""
    position: int = 0
    mark: str = ""  # as a book has it, such as "[use]" or "[never: taps]"; "" where nothing is said


BookChangeKind = Literal["added", "changed", "marked", "removed", "moved"]


@dataclass(frozen=True, slots=True)
class BookChange:
    """One change of the book: what was done to how many exercises, the first called ``about``.

    ``before`` is what is needed to undo it, as JSON (``store.book``); ``place`` counts the changes.
    """

    id: str
    at: datetime
    what: BookChangeKind
    about: str
    many: int
    before: str
    place: int


@dataclass(frozen=True, slots=True)
class NewTake:
    """What comes with a recording."""

    student_id: str
    upload_key: str
    exercise: str
    tempo: str
    recorded_at: datetime
    source: TakeSource
    name: str = ""
    stroke: str | None = None
    click: str = "auto"
    latency_ms: float | None = None
    device_id: str | None = None
    model: bool = False
    facts: dict[str, str] = field(default_factory=dict)
    urgency: Urgency = "student"


def day_recorded(take: StudioTake | TakeOutline, now: datetime) -> date:
    """Return the day of a take, on the clock of ``now``."""
    return take.recorded_at.astimezone(now.tzinfo).date()
