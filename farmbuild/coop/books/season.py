"""The season of a cooperative, by which free days are counted and statements are made."""

from __future__ import annotations

from datetime import date, timedelta

from farmbuild.crew.models import Member, SharingRules
from farmbuild.orgs.models import Organisation


class Seasons:
    """A season begins every year on the day that the rules of sharing say; read once."""

    def __init__(self, organisation: Organisation) -> None:
        rules = SharingRules.objects.filter(organisation=organisation).first() or SharingRules()
        self.month, self.day = rules.season_month, rules.season_day

    def begun(self, day: date) -> date:
        """The first day of the season that ``day`` is in."""
        this_year = date(day.year, self.month, self.day)
        return this_year if this_year <= day else date(day.year - 1, self.month, self.day)

    def ends(self, day: date) -> date:
        """The last day of the season that ``day`` is in."""
        return date(self.begun(day).year + 1, self.month, self.day) - timedelta(days=1)


def shares_of(organisation: Organisation) -> dict[int, int]:
    """By the key of a member."""
    return dict(Member.objects.of(organisation).values_list("pk", "share"))
