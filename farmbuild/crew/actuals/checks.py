"""What cannot be true of a press, said at the field that it is about."""

from __future__ import annotations

from django.core.exceptions import ValidationError

from farmbuild.crew.actuals.bends import counted_words
from farmbuild.crew.actuals.selectors import others_at
from farmbuild.crew.bridge import task_unit
from farmbuild.crew.models import Actual, Task
from farmbuild.hoops.batches.selectors import HouseHoops
from farmbuild.measure import by_sign, format_count

NO_HOURS = "Nobody pressed Start for this. Type the hours that it took, for example 2.5."
NOTHING = "There is nothing to stop here. Press Start first."
NO_PROBLEM = "Say in a few words what is wrong."


def check_typed(actual: Actual, what: str, *, run: Actual | None, counted: HouseHoops | None = None) -> None:
    """``actual`` with its times, before it is stored; ``run``: the start that it ends; ``counted``: what batches count
    instead of presses. Raises ValidationError."""
    task = actual.task
    worked = actual.finished or actual.done or actual.minutes
    if what == "note" or (what == "stop" and run is None and not worked):
        if not actual.problem:
            raise ValidationError({"problem": NO_PROBLEM} if what == "note" else NOTHING)
        return
    if task.state == Task.State.DONE and run is None:
        how = "Its batch counts the hoops." if counted else "Take back Done first."
        raise ValidationError(f"{task.get_kind_display()} at {task.house} is done already. {how}")
    if what == "start":
        return
    if run is None and not actual.minutes:
        raise ValidationError({"minutes": by_sign(NO_HOURS)})
    if counted:
        if actual.done:
            raise ValidationError({"done": f"{counted_words(counted)} Leave this at 0."})
        if actual.started_at:
            _check_people(actual)
        return
    rest = max(0, task.count - task.done)
    if actual.done > rest:
        raise ValidationError({"done": _too_many(task, rest, actual.done)})
    if actual.started_at:
        _check_people(actual)


def _too_many(task: Task, rest: int, typed: int) -> str:
    unit = task_unit(task)[rest != 1]
    if not rest:
        return f"All {format_count(task.count)} {task_unit(task)[1]} here are done already. Leave this at 0."
    verb = "is" if rest == 1 else "are"
    return f"Only {format_count(rest)} {unit} {verb} left here; {format_count(typed)} is more than that."


def _check_people(actual: Actual) -> None:
    """Whoever has a run of their own is not counted again with somebody else's."""
    others = list(others_at(task=actual.task, person=actual.person, since=actual.started_at))
    crew = actual.person.crew if actual.person else None
    if not others or crew is None:
        return
    theirs = {other.pk for other in others}
    free = crew.people.filter(archived_at=None).exclude(pk__in=theirs).count()
    if actual.people > max(1, free):
        names = " and ".join(other.name for other in others)
        have = "has a run" if len(others) == 1 else "have runs"
        raise ValidationError({"people": f"{names} {have} of their own here. Type at most {max(1, free)}."})
