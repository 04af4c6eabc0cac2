"""Who was at a run: whom it names, the crew of that day, or whom a planner names. Never more or fewer than it had."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime

from farmbuild.costs.models import PaidTime
from farmbuild.crew.models import DayOff, Person
from farmbuild.crew.people.selectors import any_person_of
from farmbuild.orgs.models import Organisation


class People:
    """People of an organisation and their days off, read once. ``by_key``: archived ones too."""

    def __init__(self, organisation: Organisation, days: Iterable[date]) -> None:
        self.by_key = {person.pk: person for person in any_person_of(organisation=organisation).order_by("name", "pk")}
        self._off: dict[int, list[tuple[date, date]]] = defaultdict(list)
        first, last = min(days, default=date.max), max(days, default=date.min)
        away = DayOff.objects.of(organisation).filter(person__isnull=False, last__gte=first, first__lte=last)
        for person, *stretch in away.values_list("person", "first", "last"):
            self._off[person].append(tuple(stretch))
        self._busy: dict[int, list[tuple[datetime, datetime]]] = defaultdict(list)
        paid = PaidTime.objects.of(organisation).net().filter(starts_at__isnull=False, day__gte=first, day__lte=last)
        for person, *stretch in paid.values_list("person", "starts_at", "ends_at"):
            self._busy[person].append(tuple(stretch))

    def of_crew(self, crew: int | None, day: date) -> list[Person]:
        """Of the crew and there on that day."""
        return [
            person
            for person in self.by_key.values()
            if crew is not None
            and person.crew_id == crew
            and person.archived_at is None
            and not any(first <= day <= last for first, last in self._off[person.pk])
        ]

    def at(self, *, person: int | None, crew: int | None, day: date, count: int) -> list[Person]:
        """``count`` people; none where that cannot be told and somebody has to name them."""
        own = self.by_key.get(person) if person else None
        if own and count == 1:
            return [own]
        there = self.of_crew(crew, day)
        if len(there) != count or (own and own not in there):
            return []
        return there

    def guess(
        self, *, person: int | None, crew: int | None, day: date, count: int, times: tuple[datetime, datetime] | None
    ) -> list[Person]:
        """As many to choose beforehand where somebody has to name them: who pressed, then others of the crew who were
        at nothing else then."""
        own = [self.by_key[person]] if person in self.by_key else []
        others = [one for one in self.of_crew(crew, day) if one not in own and not self._is_busy(one, times)]
        return [*own, *others][:count]

    def _is_busy(self, person: Person, times: tuple[datetime, datetime] | None) -> bool:
        return times is not None and any(
            starts < times[1] and times[0] < ends for starts, ends in self._busy[person.pk]
        )
