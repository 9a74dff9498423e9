"""Two weeks of one student, from the first drop to the teacher's answer, in three engines.

Only what people do is done: pages are opened, things pressed, words typed, a take played into the room. The
student and the teacher have a window each, as two devices. What passes between is the studio's own. One thing
is not waited for: the days between, so a day of the week and the next week are opened by their links.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Playwright

from evenhand.studio.store.studio import Studio
from tests.e2e.air import Air
from tests.e2e.engines import ENGINES, READY, Engine, Window, a_window
from tests.e2e.furnished import Played, four_drops, played
from tests.e2e.served import Served
from tests.studios import PASSWORD, QUICK, a_studio

pytestmark = [pytest.mark.e2e, pytest.mark.parametrize("engine", ENGINES)]

NAME = "Mina Aldous"
WORDS = "Let the left stick fall by itself."
QUESTION = "Which finger holds it?"
ANSWER = "Thumb and first finger; the others lie on it."
MOST_TAKES = 3  # of one exercise
HEARD = "!document.getElementById('result').hidden && document.getElementById('result').innerText"


def take_in(teacher: Window) -> str:
    """Log in, take the student in, send the week that is proposed, and return the private link."""
    teacher.open("/login")
    teacher.write("#password", PASSWORD)
    teacher.follow("main button")
    teacher.follow(teacher.named("Students"))
    teacher.write(teacher.field("Name"), NAME)
    teacher.follow(teacher.named("Add, and make the link"))
    link = str(teacher.run("return document.querySelector('input[readonly]').value"))
    teacher.follow(teacher.named("Next week's practice"))
    send_week(teacher)
    return link


def send_week(teacher: Window, words: str = "") -> None:
    """Send the week that is proposed."""
    teacher.until("document.querySelector('#plan .row') !== null")
    if words:
        teacher.write(teacher.field("Your words to"), words)
    teacher.follow(teacher.named("Send to"))
    teacher.says("[role=status]", "Sent.")


def play(student: Window, air: Air, take: Played, words: str) -> int:
    """Record what is played into the room, until it is heard as what it was; return how many takes that took.

    A machine that is short of time loses sound: where it was, as the room counted, it is played again.
    """
    takes, heard = 0, ""
    while takes == 0 or (takes < MOST_TAKES and words not in heard and air.was_short_of_time):
        takes += 1
        student.until(READY)
        with air.alone():
            student.press("#go")
            student.says("#status", "^Recording")
            air.play(take.wav)
            student.press("#go")
        heard = str(student.until(HEARD))
    assert words in heard, (heard, air.waited_s)
    return takes


def first_week(teacher: Window, student: Window, air: Air) -> int:
    """Let the first drops fall; the teacher says a word about them, and sends the next week ahead."""
    student.follow(student.named("Drops, right hand alone"))
    takes = play(student, air, four_drops(), "4 drops")
    teacher.follow(teacher.named("Today"))
    teacher.follow(teacher.named(NAME))
    teacher.follow("a[href^='/takes/']")
    teacher.says("main", "drops")
    teacher.write(teacher.field(f"To {NAME}"), WORDS)
    teacher.follow(teacher.named(f"Send to {NAME}"))
    teacher.follow(teacher.named(NAME))
    teacher.follow("a[href$='/week']")
    send_week(teacher, "Now both hands.")
    return takes


def second_week(teacher: Window, student: Window, air: Air) -> int:
    """Read the word, ask, and play on; the teacher answers, and the student reads that."""
    student.open("/stand")
    student.says(".news", WORDS)
    student.follow(".news a")
    student.write(student.field("Write to your teacher"), QUESTION)
    student.follow(student.named("Send to your teacher"))
    student.follow(student.named("Today's practice"))
    student.follow(student.named("Your next practice"))
    student.says("main", "Now both hands.")
    student.press(student.named("Something else"))
    student.write(student.field("Exercise"), "1/8: RLRR LRLL")
    student.write(student.field("Tempo"), "1/4=180")
    student.follow(student.named("Practise this"))
    student.press("label:has(input[name=place][value=off])")
    takes = play(student, air, played(), "hand")
    teacher.follow(teacher.named("Today"))
    teacher.says(".answer", "Which finger holds it")
    teacher.follow(".answer a")
    teacher.write(teacher.field(f"To {NAME}"), ANSWER)
    teacher.follow(teacher.named(f"Send to {NAME}"))
    student.open("/stand")
    student.says(".news", ANSWER)
    student.follow(".news a")
    student.says(".thread", ANSWER)
    return takes


def test_two_weeks_from_the_first_drop_to_the_teacher_s_answer(
    engine: Engine, playwright: Playwright, air: Air, folder: Path
) -> None:
    a_studio(folder).close()
    with (
        Served(folder / "studio") as served,
        a_window(engine, air, playwright) as teacher,
        a_window(engine, air, playwright) as student,
    ):
        teacher.address = student.address = served.address
        link = take_in(teacher)
        student.open(link.removeprefix(served.address))
        count = first_week(teacher, student, air) + second_week(teacher, student, air)
        with Studio.open(folder / "studio", hasher=QUICK) as studio:
            (mina,) = studio.students.all()
            assert [take.status for take in studio.takes.all(mina.id)] == ["heard"] * count
            assert len(studio.weeks.all(mina.id)) == 2
        assert "Traceback" not in served.log(), served.log()
