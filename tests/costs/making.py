"""People with pay rates, and hours of a week that is known."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from farmbuild.costs.models import PaidTime
from farmbuild.costs.rates import set_pay_rate
from farmbuild.crew.hours.selectors import runs_of
from farmbuild.crew.hours.services import approve
from farmbuild.crew.models import Kind, Task
from tests.crew.hours.making import MONDAY
from tests.factories import CrewFactory, HouseFactory, PersonFactory, SiteFactory

FIRST = date(2026, 1, 1)
DAY = MONDAY.date()


def a_task(organisation, crew, kind=Kind.POSTS, house=None) -> Task:
    house = house or HouseFactory(organisation=organisation, site=SiteFactory(organisation=organisation))
    return Task.objects.create(organisation=organisation, house=house, kind=kind, count=40, people=2, crew=crew)


class Team:
    """Ann at 29.00 and Ben at 34.75 an hour, of one crew that works 07:00 to 16:00, and a task of theirs."""

    def __init__(self, organisation, user):
        self.organisation, self.user = organisation, user
        self.who = {"organisation": organisation, "user": user}
        self.crew = CrewFactory(organisation=organisation)
        self.ann = PersonFactory(crew=self.crew, name="Ann")
        self.ben = PersonFactory(crew=self.crew, name="Ben")
        self.task = a_task(organisation, self.crew)
        self.house = self.task.house

    def rate(self, an_hour, since=FIRST, **whose):
        return set_pay_rate(**self.who, since=since, an_hour=Decimal(an_hour), **whose)

    def rates(self):
        self.rate("29", person=self.ann)
        self.rate("34.75", person=self.ben)
        return self

    def approve(self, *runs):
        rows = runs_of(organisation=self.organisation).filter(pk__in=[run.pk for run in runs])
        return approve(**self.who, runs=[(run.pk, run.latest) for run in rows])


def paid(**which) -> list[tuple]:
    """(person, minutes, amount, past the end of the day), as they were made."""
    rows = PaidTime.objects.filter(**which).select_related("person").order_by("pk")
    return [(str(row.person), row.minutes, row.amount.normalize(), row.after_hours) for row in rows]
