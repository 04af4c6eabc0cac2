"""What the pages of the guide show beside their text."""

from __future__ import annotations

from itertools import groupby

from django.http import HttpRequest

from farmbuild.common import reading
from farmbuild.common.speaking import in_order
from farmbuild.common.terms import TERMS, Term
from farmbuild.guide.jobs import BY_SLUG, JOBS, Job
from farmbuild.measure import UnitSystem


def units_of(request: HttpRequest) -> UnitSystem:
    """The reader's own; who has no organisation says them in the address."""
    if organisation := getattr(request, "organisation", None):
        return reading.units_of(organisation)
    asked = request.GET.get("units")
    return UnitSystem.METRIC if asked == UnitSystem.METRIC else UnitSystem.IMPERIAL


def around(job: Job) -> dict[str, object]:
    """The pages before and after this one, and its number."""
    at = JOBS.index(job)
    return {
        "number": at + 1,
        "before": JOBS[at - 1] if at else None,
        "after": JOBS[at + 1] if at + 1 < len(JOBS) else None,
    }


def by_letter() -> list[tuple[str, list[tuple[Term, Job]]]]:
    """All terms by their first letter, each with the job that explains it."""
    rows = sorted(TERMS.values(), key=lambda term: in_order(term.name))
    return [
        (letter.upper(), [(term, BY_SLUG[term.job]) for term in terms])
        for letter, terms in groupby(rows, key=lambda term: in_order(term.name)[0])
    ]
