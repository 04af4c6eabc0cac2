"""The season line as pages show it."""

from __future__ import annotations

from datetime import date

from farmbuild.common.season_line import SeasonLine
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.plans.season.rows import by_urgency, house_row
from farmbuild.plans.season.selectors import Places, days_of_houses


def work_line(*, organisation: Organisation, title: str, places: Places | None = None) -> SeasonLine:
    """A row a house that has tasks. ``places``: where a schedule puts them."""
    today: date = today_of(organisation=organisation)
    houses = sorted(days_of_houses(organisation=organisation, places=places), key=by_urgency)
    rows = [house_row(house, today=today) for house in houses]
    return SeasonLine(title, rows, today, limit="to stand by this day")
