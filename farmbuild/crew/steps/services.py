"""Writes of templates, rates and the tasks of a house: one transaction a user action."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import ProtectedError
from django.utils.translation import gettext

from farmbuild.common.slugs import free_slug
from farmbuild.crew.actuals.trials import catch_up
from farmbuild.crew.bridge import (
    STEPS,
    Spread,
    Wait,
    circle_in,
    gate_problem,
    in_order,
    minutes_on_site,
    work_counts,
)
from farmbuild.crew.models import HouseWork, Kind, Skill, StepAfter, Task, WorkStep, WorkTemplate
from farmbuild.crew.people.services import check_name, check_owner, lock_organisation
from farmbuild.crew.steps.selectors import minutes_by, rates_of, steps_of, tasks_off_rates, work_of
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.bridge import spec_problems
from farmbuild.sites.models import House
from farmbuild.sites.selectors import any_house_of

STANDARD_NAME = "Pipe-framed house"
#: The standard steps ask for these skills where the organisation has them.
_HIGH, _BENDING = "ladder work", "bending"
RESERVED = frozenset({"new"})


@dataclass(frozen=True)
class Step:
    """``waits``: (kind waited for, minutes of real time between)."""

    kind: str
    people: int
    skill: Skill | None = None
    waits: tuple[tuple[str, int], ...] = ()


def circle_words(circle: Sequence[str]) -> str:
    """Names the steps that wait for each other."""
    names = [str(Kind(kind).label) for kind in circle]
    chain = gettext(", which waits for ").join([*names[1:], names[0]])
    return gettext("%(names)s waits for %(chain)s. Take one of these out, so that the work can begin.") % {
        "names": names[0],
        "chain": chain,
    }


def _waits(steps: Sequence[Step]) -> list[Wait]:
    return [Wait(step.kind, after, lag) for step in steps for after, lag in step.waits]


def check_steps(steps: Sequence[Step]) -> None:
    """Raises ValidationError with the sentence to show; fields are the form's to find."""
    kinds = [step.kind for step in steps]
    if not kinds:
        raise ValidationError(gettext("Tick at least one step."))
    waits = _waits(steps)
    for wait in waits:
        if wait.after not in kinds:
            raise ValidationError(
                gettext("%(step)s waits for %(other)s, which is not ticked. Tick it, or choose another step.")
                % {"step": Kind(wait.step).label, "other": Kind(wait.after).label}
            )
    if circle := circle_in(waits):
        raise ValidationError(circle_words(circle))
    if words := gate_problem(kinds, waits):
        raise ValidationError(words)


@needs(Act.PLAN)
@transaction.atomic
def save_template(
    *, organisation: Organisation, user: User, name: str, steps: Sequence[Step], template: WorkTemplate | None = None
) -> WorkTemplate:
    """Adds one, or stores ``template`` anew; its address stays. Steps are put in the order in which they can be done.

    Raises ValidationError: by field for the name, else a sentence. Tasks that are made already stay as they are.
    """
    lock_organisation(organisation)
    check_steps(steps)
    rows = WorkTemplate.objects.of(organisation)
    check_name(rows, name, "template", but=template)
    for step in steps:
        check_owner(organisation, {"skill": step.skill})
    if template is None:
        slug = free_slug(name, taken_in=rows, fallback="template", reserved=RESERVED)
        current = WorkTemplate(organisation=organisation, slug=slug)
    else:
        current = rows.get(pk=template.pk)
    current.name = name.strip()
    current.full_clean()
    current.save()
    current.steps.all().delete()
    waits = _waits(steps)
    order = in_order([step.kind for step in steps], waits)
    stored = {}
    for step in sorted(steps, key=lambda step: order.index(step.kind)):
        row = WorkStep(template=current, position=len(stored) + 1, kind=step.kind, people=step.people, skill=step.skill)
        row.full_clean(validate_unique=False, validate_constraints=False)
        row.save()
        stored[step.kind] = row
    pairs = [StepAfter(step=stored[wait.step], after=stored[wait.after], lag_minutes=wait.lag) for wait in waits]
    for pair in pairs:
        pair.full_clean(validate_unique=False, validate_constraints=False)
    StepAfter.objects.bulk_create(pairs)
    return current


@needs(Act.PLAN)
@transaction.atomic
def remove_template(*, organisation: Organisation, user: User, template: WorkTemplate) -> None:
    """Raises ValidationError while houses are built by it."""
    lock_organisation(organisation)
    try:
        WorkTemplate.objects.of(organisation).get(pk=template.pk).delete()
    except ProtectedError as error:
        raise ValidationError(
            gettext("Houses are built by %(template)s. Choose other steps for them first.")
            % {"template": template.name}
        ) from error


@needs(Act.PLAN)
@transaction.atomic
def standard_template(*, organisation: Organisation, user: User) -> WorkTemplate:
    """The organisation's first template; the usual steps of a house are made into one where it has none."""
    lock_organisation(organisation)
    first = WorkTemplate.objects.of(organisation).order_by("pk").first()
    if first:
        return first
    return save_template(
        organisation=organisation, user=user, name=STANDARD_NAME, steps=standard_steps(organisation=organisation)
    )


def standard_steps(*, organisation: Organisation) -> list[Step]:
    skills = {skill.name.casefold(): skill for skill in Skill.objects.of(organisation)}
    asks = {Kind.TRIAL: _BENDING, Kind.BEND: _BENDING}
    return [
        Step(
            kind=step.kind.value,
            people=step.people,
            skill=skills.get(_HIGH if step.high else asks.get(step.kind, "")),
            waits=tuple((after.value, 0) for after in step.after),
        )
        for step in STEPS
    ]


def recorded_rate(spread: Spread) -> tuple[Decimal, Decimal]:
    """Minutes for each and once a house: the recorded median, which holds what is done once a house too."""
    return spread.median, Decimal(0)


@needs(Act.PLAN)
@transaction.atomic
def save_rates(*, organisation: Organisation, user: User, rates: Mapping[str, tuple[Decimal, Decimal]]) -> None:
    """By kind, person-minutes for each unit and once a house. Raises ValidationError by kind, and stores nothing."""
    lock_organisation(organisation)
    current = rates_of(organisation=organisation)
    wrong = {}
    for kind, (each, once) in rates.items():
        row = current[kind]
        row.minutes_each, row.minutes_once = each, once
        try:
            row.full_clean()
        except ValidationError as error:
            wrong[kind] = error.messages
    if wrong:
        raise ValidationError(wrong)
    for kind in rates:
        current[kind].save()


@needs(Act.PLAN)
@transaction.atomic
def use_rates(*, organisation: Organisation, user: User) -> int:
    """Times of all tasks that are not begun, by the rates of now; says how many changed. Nothing else of them does."""
    lock_organisation(organisation)
    rates = rates_of(organisation=organisation)
    changed = tasks_off_rates(organisation=organisation)
    for task in changed:
        task.minutes = minutes_by(rates[task.kind], task)
    # One that was begun meanwhile keeps its time.
    for task in changed:
        Task.objects.filter(pk=task.pk, state=Task.State.OPEN).update(minutes=task.minutes)
    return len(changed)


@needs(Act.PLAN)
@transaction.atomic
def plan_house(
    *, organisation: Organisation, user: User, house: House, template: WorkTemplate, due: date | None
) -> list[Task]:
    """Chooses by which template and until when the house is built, and makes its tasks."""
    lock_organisation(organisation)
    check_owner(organisation, {"template": template, "house": house})
    row = work_of(house=house) or HouseWork(organisation=organisation, house=house)
    row.template, row.due = template, due
    row.full_clean()
    row.save()
    return make_tasks(organisation=organisation, user=user, house=house)


@needs(Act.PLAN)
@transaction.atomic
def make_tasks(*, organisation: Organisation, user: User, house: House) -> list[Task]:
    """A task for each step of the house's template that it has any of; without a choice, of the standard template.

    Tasks that are open get the count, people and minutes of now; those started or done stay as they are, and so does
    where a task stands in the published schedule. Open tasks that nobody recorded anything for and that the house has
    no more of are removed. Raises ValidationError for a house that cannot be built as it is specified.
    """
    lock_organisation(organisation)
    house = any_house_of(organisation=organisation).get(pk=house.pk)
    if spec_problems(house, organisation.unit_system):
        raise ValidationError(
            gettext("%(house)s cannot be built as it is specified. Correct its spec first.") % {"house": house.name}
        )
    row = work_of(house=house)
    if row is None:
        template = standard_template(organisation=organisation, user=user)
        row = HouseWork.objects.create(organisation=organisation, house=house, template=template)
    counts = {count.kind.value: count.count for count in work_counts(house, organisation.unit_system)}
    rates = rates_of(organisation=organisation)
    there = {task.kind: task for task in Task.objects.select_for_update().filter(house=house)}
    made = []
    for step in steps_of(template=row.template):
        count = counts[step.kind]
        if not count:
            continue
        task = there.pop(step.kind, None) or Task(organisation=organisation, house=house, kind=step.kind)
        task.position = step.position
        if task.state == Task.State.OPEN:
            rate = rates[step.kind]
            task.count, task.people = count, step.people
            task.metric = organisation.unit_system == Organisation.Units.METRIC
            task.minutes = minutes_on_site(count, rate.minutes_each, rate.minutes_once, step.people)
        task.full_clean(validate_unique=False)
        task.save()
        catch_up(organisation=organisation, task=task)
        made.append(task)
    gone = [task.pk for task in there.values() if task.state == Task.State.OPEN]
    Task.objects.filter(pk__in=gone, actuals__isnull=True).delete()
    return made
