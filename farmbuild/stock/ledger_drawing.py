"""The ledger at a glance: how many movements of each day brought something in, and how many took something out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from datetime import date

from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.common.season_line import BarLine, BarRow
from farmbuild.measure import format_count
from farmbuild.measure.speech import gettext_noop
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.stock.ledger_selectors import moves_by_day
from farmbuild.stock.models import Movement

#: So many of the newest movements are drawn.
MOST = 1_000
#: What is counted here, one and many.
NOUNS = (gettext_noop("movement"), gettext_noop("movements"))


def ledger_line(*, organisation: Organisation, rows: QuerySet[Movement], count: int) -> BarLine:
    """Of the movements that the page lists, ``count`` of them. Movements are counted, since pieces do not add up."""
    moved = moves_by_day(rows, MOST)

    def row(name: str, fits: Callable[[int], bool]) -> BarRow:
        times: Counter[date] = Counter(timezone.localtime(at).date() for at, quantity in moved if fits(quantity))
        return BarRow(name, tuple(sorted(times.items())), NOUNS[0])

    title = (
        gettext("Movements by day")
        if count <= MOST
        else gettext("The newest %(most)s movements by day") % {"most": format_count(MOST)}
    )
    both = [
        row(gettext("Came in"), lambda quantity: quantity > 0),
        row(gettext("Went out"), lambda quantity: quantity < 0),
    ]
    return BarLine(title, both, today_of(organisation=organisation), gettext("movements of a day"))
