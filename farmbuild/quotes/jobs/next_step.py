"""What comes next at a job that was accepted: its plan, its orders, the work, its bills."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext

from farmbuild.plans.phases.selectors import HousePhase, Phase, phases_of_houses, standing_of
from farmbuild.plans.phases.words import next_step, sentence_of
from farmbuild.quotes.models import Job
from farmbuild.sites.models import House


@dataclass(frozen=True)
class NextStep:
    """What to do, and the page to do it on."""

    words: str
    label: str
    href: str


def next_step_of(job: Job) -> NextStep | None:
    """None before it is accepted, and once it is lost. A few queries, however many houses it has."""
    if job.state == Job.State.FINISHED:
        href = reverse("quotes:against", args=[job.number])
        return NextStep(gettext("It is finished."), gettext("Cost against the quote"), href)
    if job.state != Job.State.ACCEPTED:
        return None
    houses = list(job.job_houses.filter(house__archived_at=None).values_list("house", flat=True))
    phases = phases_of_houses(organisation=job.organisation, houses=houses)
    if phases:
        # The house that is least far says what comes next.
        return _of_plan(job, houses, min(phases.values(), key=lambda found: found.phase))
    if job.plan_id:
        return NextStep(
            gettext("Its houses are being planned."),
            gettext("See plan %(number)s") % {"number": job.plan.number},
            _page(job.plan.number),
        )
    return NextStep(gettext("Plan what its houses need."), gettext("Plan the season"), reverse("plans:new"))


def _of_plan(job: Job, houses: list[int], found: HousePhase) -> NextStep:
    see, page = gettext("See plan %(number)s") % {"number": found.plan.number}, _page(found.plan.number)
    if found.phase == Phase.TRIED:
        return NextStep(
            gettext("Its houses are planned, and nothing is ordered yet. Look at the plan, then accept it."), see, page
        )
    if found.phase == Phase.RELEASED:
        return NextStep(gettext("The plan of its houses is released, so nothing is held for them."), see, page)
    standing = standing_of(plan=found.plan)
    words = sentence_of(found.phase, standing)
    if found.phase == Phase.DONE:
        href = reverse("quotes:job-bills", args=[job.number])
        return NextStep(
            gettext("%(words)s Bill what is left, then finish the job.") % {"words": words}, gettext("Bills"), href
        )
    step = next_step(found.phase, standing)
    idle = House.objects.filter(pk__in=houses, tasks=None).order_by("pk").first()
    if idle and not (standing.to_send or standing.to_receive):
        # The board of the crew has nothing of a house before its tasks are made.
        return NextStep(
            words,
            gettext("Plan the work of %(idle)s") % {"idle": idle.name},
            reverse("crew:house-work", args=[idle.slug]),
        )
    return NextStep(words, step.label, step.url)


def _page(number: int) -> str:
    return reverse("plans:plan", args=[number])
