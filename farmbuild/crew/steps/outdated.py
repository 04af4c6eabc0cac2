"""Tasks that were made of a house as it once was, and the schedule that goes by them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence

from django.db.models import QuerySet
from django.urls import reverse
from django.utils.translation import gettext

from farmbuild.common.compiled import compiled_once
from farmbuild.crew.bridge import work_counts
from farmbuild.crew.models import Schedule, Task
from farmbuild.measure import UnitSystem
from farmbuild.orgs.models import Organisation
from farmbuild.sites.bridge import spec_problems
from farmbuild.sites.models import House
from farmbuild.sites.outdated import Outdated
from farmbuild.sites.selectors import any_house_of


def outdated_houses(*, organisation: Organisation, houses: Collection[int] | None = None) -> list[House]:
    """Houses with a task to do that counts other than the house now has, by name; ``houses``: among those keys.

    As many queries for one house as for many.
    """
    made = _made(organisation, houses)
    found = any_house_of(organisation=organisation).filter(pk__in=made)
    return [house for house in found.order_by("name", "pk") if _differs(house, made[house.pk])]


def _made(organisation: Organisation, houses: Collection[int] | None) -> dict[int, dict[tuple[str, bool], int]]:
    """By house, what its open tasks count, by kind and whether in metric units; one query."""
    made: dict[int, dict[tuple[str, bool], int]] = defaultdict(dict)
    for house, kind, metric, count in _open_counts(organisation.pk, houses):
        made[house][kind, metric] = count
    return made


@compiled_once
def _open_counts(organisation: int, houses: Sequence[int] | None) -> QuerySet[Task]:
    rows = Task.objects.filter(organisation_id=organisation)
    rows = rows.filter(state=Task.State.OPEN, house__archived_at=None, house__site__archived_at=None)
    rows = rows if houses is None else rows.filter(house__in=houses)
    return rows.values_list("house", "kind", "metric", "count")


def _differs(house: House, made: dict[tuple[str, bool], int]) -> bool:
    """Each task is counted in the units in which it was made."""
    units = house.organisation.unit_system
    if spec_problems(house, units):
        return True
    for metric in {metric for _, metric in made}:
        counts = work_counts(house, UnitSystem.METRIC if metric else UnitSystem.IMPERIAL)
        now = {count.kind.value: count.count for count in counts}
        if any(now.get(kind, 0) != count for (kind, as_metric), count in made.items() if as_metric is metric):
            return True
    return False


def outdated_by(*, house: House) -> list[Outdated]:
    made = _made(house.organisation, [house.pk]).get(house.pk)
    if not made or not _differs(house, made):
        return []
    work = reverse("crew:house-work", args=[house.slug])
    found = [Outdated(gettext("Tasks of %(house)s") % {"house": house.name}, work, gettext("make the tasks again"), 3)]
    published = Schedule.objects.of(house.organisation).exclude(published_at=None).order_by("-number").first()
    if published and house.tasks.exclude(starts_at=None).exists():
        found.append(
            Outdated(
                str(published), reverse("crew:schedule", args=[published.number]), gettext("then work it out again"), 4
            )
        )
    return found
