"""What cannot be true of a press, said at the field that it is about."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.speaking import said_list
from farmbuild.crew.actuals.bends import counted_words
from farmbuild.crew.actuals.selectors import others_at
from farmbuild.crew.actuals.words import said_unit
from farmbuild.crew.models import Actual, Task
from farmbuild.hoops.batches.selectors import HouseHoops
from farmbuild.measure import by_sign, format_count

NO_HOURS = _("Nobody pressed Start for this. Type the hours that it took, for example 2.5.")
NOTHING = _("There is nothing to stop here. Press Start first.")
NO_PROBLEM = _("Say in a few words what is wrong.")


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
        how = gettext("Its batch counts the hoops.") if counted else gettext("Take back Done first.")
        words = gettext("%(work)s at %(house)s is done already.")
        raise ValidationError(f"{words % {'work': task.get_kind_display(), 'house': task.house}} {how}")
    if what == "start":
        return
    if run is None and not actual.minutes:
        raise ValidationError({"minutes": by_sign(str(NO_HOURS))})
    if counted:
        if actual.done:
            raise ValidationError({"done": " ".join((counted_words(counted), gettext("Leave this at 0.")))})
        if actual.started_at:
            _check_people(actual)
        return
    rest = max(0, task.count - task.done)
    if actual.done > rest:
        raise ValidationError({"done": _too_many(task, rest, actual.done)})
    if actual.started_at:
        _check_people(actual)


def _too_many(task: Task, rest: int, typed: int) -> str:
    unit = said_unit(task)[rest != 1]
    if not rest:
        words = gettext("All %(count)s %(unit)s here are done already. Leave this at 0.")
        return words % {"count": format_count(task.count), "unit": said_unit(task)[1]}
    words = ngettext(
        "Only %(count)s %(unit)s is left here; %(typed)s is more than that.",
        "Only %(count)s %(unit)s are left here; %(typed)s is more than that.",
        rest,
    )
    return words % {"count": format_count(rest), "unit": unit, "typed": format_count(typed)}


def _check_people(actual: Actual) -> None:
    """Whoever has a run of their own is not counted again with somebody else's."""
    others = list(others_at(task=actual.task, person=actual.person, since=actual.started_at))
    crew = actual.person.crew if actual.person else None
    if not others or crew is None:
        return
    theirs = {other.pk for other in others}
    free = crew.people.filter(archived_at=None).exclude(pk__in=theirs).count()
    if actual.people > max(1, free):
        words = ngettext(
            "%(names)s has a run of their own here. Type at most %(most)s.",
            "%(names)s have runs of their own here. Type at most %(most)s.",
            len(others),
        )
        names = said_list(other.name for other in others)
        raise ValidationError({"people": words % {"names": names, "most": max(1, free)}})
