"""What the check of a schedule finds, and why a task has no place, said with names of people, days and hours."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from django.utils.translation import gettext, gettext_noop, ngettext

from farmbuild.common.speaking import said_day_of_year, said_list
from farmbuild.crew.bridge import Broken, Fault, Hindrance, Reason
from farmbuild.crew.models import Crew
from farmbuild.crew.schedule.problem import SLOT
from farmbuild.crew.schedule.selectors import named_tasks
from farmbuild.hoops.benders.models import Bender
from farmbuild.measure import format_count, format_minutes
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation

#: What follows on the name of the task, or of the crew or bender, that a fault is first about.
WORDS = {
    Broken.TOLD_ONCE: gettext_noop("is told of {actual} times, not once."),
    Broken.KNOWN: gettext_noop("is not to be done."),
    Broken.WAY: gettext_noop("is done by someone who may not do it."),
    Broken.FIXED: gettext_noop("is to be kept on its day and time, and is not."),
    Broken.RELEASE: gettext_noop("starts {at} and may not before {earliest}."),
    Broken.NO_TIME: gettext_noop("takes no time and yet ends after it starts."),
    Broken.THERE: gettext_noop("starts or ends while someone or something that it needs is not there."),
    Broken.WORK: gettext_noop("has {span} of work and takes {needed}."),
    Broken.IN_ONE_GO: gettext_noop("stops on the way and must be done in one go."),
    Broken.WAIT_PLACED: gettext_noop("is placed and what it waits for, {other}, is not."),
    Broken.WAIT: gettext_noop("starts before {other} has ended."),
    Broken.JOURNEY: gettext_noop("cannot be in time for {task} after {other}."),
    Broken.ENOUGH: gettext_noop("is wanted for two tasks at once, {at}."),
}
#: Why a task has no place; of one, and of several, where these differ.
WHY = {
    Hindrance.NO_WAY: gettext_noop("Nobody is there who may do it."),
    Hindrance.NEVER_ENOUGH: (
        gettext_noop("{names} never has {people} there at once."),
        gettext_noop("{names} never have {people} there at once."),
    ),
    Hindrance.NEVER_TOGETHER: gettext_noop("{names} are never there at the same time."),
    Hindrance.NEVER_SO_LONG: (
        gettext_noop("{names} never has {span} without a break."),
        gettext_noop("{names} never have {span} without a break."),
    ),
    Hindrance.NONE_LEFT: (
        gettext_noop("{names} has no {span} left from {day} on."),
        gettext_noop("{names} have no {span} left from {day} on."),
    ),
    Hindrance.WAITS: gettext_noop("It waits for {kind} of the same house, which cannot be placed."),
    Hindrance.NOBODY_BY_THEN: gettext_noop("Nobody is there any more by the time that it could be done."),
    Hindrance.NO_ROOM: gettext_noop("There is no room left for it before the last day on which someone is there."),
}
#: What the plan says of itself and is wrong; there is nobody to name.
OWN_SUMS = gettext_noop("What the schedule says of its own end, of late houses or of moved tasks is wrong.")


def tasks_in(faults: Iterable[Fault]) -> set[int]:
    """Keys of the tasks that are named."""
    return {int(ref) for fault in faults for ref in (fault.task, fault.other) if ref}


class Names:
    """Names of crews, benders and ``tasks``, and moments by the clocks of the organisation; four queries."""

    def __init__(self, organisation: Organisation, start: datetime, tasks: Iterable[int]) -> None:
        self.zone, self.start = zone_of(organisation=organisation), start
        self._resources = {
            f"{kind}-{pk}": name
            for kind, model in (("crew", Crew), ("bender", Bender))
            for pk, name in model.objects.of(organisation).values_list("pk", "name")
        }
        rows = named_tasks(organisation=organisation, keys=tasks).values()
        self._kinds = {str(task.pk): f"“{task.get_kind_display()}”" for task in rows}
        houses = {str(task.pk): task.house for task in rows}
        words = gettext("%(work)s of %(house)s")
        self._tasks = {key: words % {"work": kind, "house": houses[key]} for key, kind in self._kinds.items()}

    def resource(self, ref: str) -> str:
        return self._resources.get(ref) or gettext("A row since removed")

    def task(self, ref: str) -> str:
        return self._tasks.get(ref) or gettext("a task since removed")

    def kind(self, ref: str) -> str:
        """What is done, where it is plain for which house."""
        return self._kinds.get(ref) or gettext("a task since removed")

    def when(self, slot: int) -> str:
        return gettext("on %(moment)s at %(at)s") % {"moment": self._moment(slot), "at": f"{self._at(slot):%H:%M}"}

    def earliest(self, slot: int) -> str:
        """The day alone where it is its beginning."""
        at = self._at(slot)
        return self._moment(slot) + (f", {at:%H:%M}" if at.hour or at.minute else "")

    def by(self, moment: datetime) -> str:
        return gettext("by %(day)s at %(time)s") % {
            "day": self._long(moment),
            "time": f"{moment.astimezone(self.zone):%H:%M}",
        }

    def _at(self, slot: int) -> datetime:
        return (self.start + slot * SLOT).astimezone(self.zone)

    def _moment(self, slot: int) -> str:
        return self._long(self._at(slot))

    def _long(self, moment: datetime) -> str:
        local = moment.astimezone(self.zone)
        return said_day_of_year(local.date())

    def follows(self, fault: Fault) -> str:
        """What follows on the name of the task that does not fit; a whole sentence where another name comes first."""
        return self._words(fault) if not fault.resource else self.holder_sentence(fault)

    def holder_sentence(self, fault: Fault) -> str:
        if fault.rule not in WORDS:
            return gettext(OWN_SUMS)
        first = self.resource(fault.resource) if fault.resource else self.task(fault.task)
        return f"{first[:1].upper()}{first[1:]} {self._words(fault)}"

    def why(self, reason: Reason) -> str:
        names = [self.resource(ref) for ref in reason.resources]
        if reason.rule is Hindrance.NEVER_ENOUGH and reason.amount == 1:
            return gettext("%(names)s is never there.") % {"names": names[0]}
        words = WHY[reason.rule]
        if not isinstance(words, str):
            words = words[len(names) != 1]
        return gettext(words).format(
            names=said_list(names),
            people=ngettext("%(count)s person", "%(count)s people", reason.amount) % {"count": reason.amount},
            span=_span(reason.slots),
            day=self.earliest(reason.after),
            kind=self.kind(reason.task),
        )

    def _words(self, fault: Fault) -> str:
        words = gettext(WORDS[fault.rule])
        if fault.rule is Broken.WAIT and fault.expected:
            words = gettext("starts before {other} has ended and {gone} have gone.")
        if fault.rule is Broken.ENOUGH and not fault.expected:
            words = gettext("is wanted, and away, {at}.")
        return words.format(
            actual=fault.actual,
            task=self.task(fault.task),
            other=self.task(fault.other),
            at=self.when(fault.actual),
            earliest=self.earliest(fault.expected),
            span=_span(fault.actual),
            needed=_span(fault.expected),
            gone=_span(fault.expected),
        )


def _span(slots: int) -> str:
    return format_minutes(int(slots * SLOT.total_seconds() // 60))


def sentences_of(organisation: Organisation, start: datetime, faults: Sequence[Fault], most: int) -> list[str]:
    """The first of what the check found, and how many more there are."""
    shown = faults[:most]
    names = Names(organisation, start, tasks_in(shown))
    more = len(faults) - len(shown)
    return [names.holder_sentence(fault) for fault in shown] + (
        [gettext("And %(more)s more.") % {"more": format_count(more)}] if more > 0 else []
    )
