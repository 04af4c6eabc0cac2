"""Which pages a phone keeps: the lists of today and tomorrow, what they need, and the sheets of open counts."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import chain, islice
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext

from farmbuild.common.speaking import said_day
from farmbuild.crew.daylist.presenters import cut_lists_of
from farmbuild.crew.daylist.selectors import day_of
from farmbuild.crew.models import Kind, Person, Task
from farmbuild.crew.people.selectors import person_of
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.hoops.batches.selectors import batches_for
from farmbuild.orgs.acts import Act
from farmbuild.orgs.gates import lets
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.selectors import any_house_of
from farmbuild.stock.counts.selectors import open_counts_of, places_of_count

#: So many pages are kept at most; the first are those of today.
MAX_PAGES = 60
#: Open counts whose sheets are kept, the newest.
MAX_COUNTS = 3
_BENDS = frozenset({Kind.MARK, Kind.TRIAL, Kind.BEND, Kind.JOIN})


@dataclass(frozen=True)
class KeptPage:
    """``words`` are empty where another page that is kept leads to it."""

    url: str
    words: str


def kept_pages(
    *, organisation: Organisation, user: User, acts: Collection[Act], today: date, boxes: int
) -> list[KeptPage]:
    """In the order of their use; of a count two queries, else as many however much there is.

    ``boxes``: lots on one page of a count's sheet.
    """
    person = person_of(organisation=organisation, user=user)
    days = _of_days(organisation, person, today) if person else iter(())
    counts = _of_counts(organisation, boxes) if Act.STOCK in acts else iter(())
    return list(islice((page for name, page in chain(days, counts) if lets(name, acts, "GET")), MAX_PAGES))


def _of_days(organisation: Organisation, person: Person, today: date) -> Iterator[tuple[str, KeptPage]]:
    tomorrow = today + timedelta(days=1)
    for day in (today, tomorrow):
        asked = urlencode({"person": person.slug, "day": day.isoformat()})
        told = {"day": said_day(day), "person": person}
        words = (
            gettext("Today, %(day)s: the list of %(person)s") % told
            if day == today
            else gettext("Tomorrow, %(day)s: the list of %(person)s") % told
        )
        yield "crew:day", KeptPage(f"{reverse('crew:day')}?{asked}", words)
    tasks = [task for day in (today, tomorrow) for task in day_of(organisation=organisation, person=person, day=day)]
    yield from _of_bending(organisation, tasks)
    yield from _of_sawing(organisation, tasks)


def _of_bending(organisation: Organisation, tasks: list[Task]) -> Iterator[tuple[str, KeptPage]]:
    keys = dict.fromkeys(task.house_id for task in tasks if task.kind in _BENDS)
    houses = any_house_of(organisation=organisation).filter(pk__in=keys) if keys else ()
    by_house = batches_for(organisation=organisation, houses=list(houses)) if keys else {}
    batches = {batch.pk: batch for key in keys for batch in by_house.get(key, ())}
    for batch in batches.values():
        if batch.state != HoopBatch.State.DONE:
            url = reverse("hoops:batch-sheet", args=[batch.number])
            yield "hoops:batch-sheet", KeptPage(url, gettext("Bending sheet of %(batch)s") % {"batch": batch})


def _of_sawing(organisation: Organisation, tasks: list[Task]) -> Iterator[tuple[str, KeptPage]]:
    urls = cut_lists_of(organisation=organisation, tasks=tasks)
    by_url = {urls[task.pk]: task.house for task in tasks if task.pk in urls}
    for url, house in by_url.items():
        yield "plans:cutting", KeptPage(url, gettext("Cut list of %(house)s") % {"house": house})


def _of_counts(organisation: Organisation, boxes: int) -> Iterator[tuple[str, KeptPage]]:
    for count in open_counts_of(organisation=organisation)[:MAX_COUNTS]:
        yield "stock:count", KeptPage(reverse("stock:count", args=[count.number]), str(count))
        for one in places_of_count(count=count):
            url = reverse("stock:count-place", args=[count.number, one.place.pk])
            yield "stock:count-place", KeptPage(url, f"{count}: {one.place}")
            sheets = -(-one.line_count // boxes)
            for sheet in range(1, sheets + 1) if sheets > 1 else ():
                yield "stock:count-place", KeptPage(f"{url}?page={sheet}", "")
