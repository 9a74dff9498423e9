"""Set aside: takes that could not be heard, or of which hearing broke off too often, each with its reason.

Conventions: a take is here from when hearing it was given up until the teacher has it heard again or leaves
it as it is. Left, it stays where the student's takes are, and says there why it was not heard.
"""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from evenhand.report.words.figures import count
from evenhand.studio.values import BEGINS_AT, TEACHER, StudioTake
from evenhand.web.pages import go, now, said_here, when_words
from evenhand.web.pages import page as made
from evenhand.web.requests import studio_of, wake_workers
from evenhand.web.views.desk import tied

HERE = "/hear/aside"
SHOWN = 100


def page(request: Request) -> Response:
    """Show the takes that were set aside, the last first."""
    studio, at = studio_of(request), now().astimezone()
    takes = studio.queue.set_aside()
    names = {student.id: student.name for student in studio.students.all(archived=None)}
    return made(
        request,
        "hear_aside.html",
        takes=takes[:SHOWN],
        more=max(len(takes) - SHOWN, 0),
        names={**names, TEACHER: "You, for everybody"},
        when=lambda moment: when_words(moment, at.date()),
        tries=lambda take: count(max(take.tried, 1), "try", "tries"),
        tied=tied,
        said=said_here(request),
    )


def see_to(request: Request) -> Response:
    """Have takes heard again, or leave them as they are: those that are named."""
    form, queue = request.state.form, studio_of(request).queue
    named = {str(each) for each in form.getlist("take")} if form else set()
    takes = [take for take in queue.set_aside() if take.id in named]
    if form and form.get("act") == "leave":
        request.state.act = "changed"
        left = queue.leave([take.id for take in takes])
        return go(HERE, f"Left as {'it is' if left == 1 else 'they are'}: {count(left, 'take')}.")
    for take in takes:
        _hear_again(request, take)
    wake_workers(request)
    return go(HERE, f"{count(len(takes), 'take')} to be heard again.")


def _hear_again(request: Request, take: StudioTake) -> None:
    """Queue a take as what it was to be heard as."""
    studio_of(request).queue.hear_again(
        take.id,
        exercise=take.exercise,
        tempo=take.tempo,
        click=take.click,
        stroke=take.stroke,
        begins_at=take.facts.get(BEGINS_AT),
    )
