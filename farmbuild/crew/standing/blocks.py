"""What keeps a house waiting: the first step not done that lacks a plan, a trial hoop or materials."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.http import urlencode
from django.utils.translation import gettext, pgettext

from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.models.orders import due_day
from farmbuild.crew.bridge import USES, WorkKind
from farmbuild.crew.gate.selectors import GATED
from farmbuild.crew.models import Task
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.hoops.batches.selectors import HouseHoops
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.plans.phases.selectors import HousePhase, Phase, phases_of_houses
from farmbuild.sites.models import House
from farmbuild.sites.yard.standing import Block
from farmbuild.stock.models import HeldPiece, Reservation

_LINE = ("order__number", "order__state", "promised_on", "need_by", "late_days")


@dataclass(frozen=True)
class _Coming:
    """Something that an order line is to bring."""

    order: str
    sent: bool
    due: date

    def block(self, today: date) -> Block:
        if not self.sent:
            words = gettext("order %(order)s not sent")
        elif self.due < today:
            words = gettext("order %(order)s overdue")
        else:
            words = gettext("order %(order)s due %(day)s")
        return Block(
            words % {"order": self.order, "day": date_format(self.due, pgettext("format of a day", "j F"))},
            reverse("buying:order", args=[self.order]),
        )


def blocks_of(
    *,
    organisation: Organisation,
    houses: Sequence[House],
    tasks: Mapping[int, Sequence[Task]],
    hoops: Mapping[int, HouseHoops],
) -> dict[int, Block]:
    """By the key of the house; one that is finished, or waits for nothing, is left out."""
    keys = [house.pk for house in houses]
    today = today_of(organisation=organisation)
    phases = phases_of_houses(organisation=organisation, houses=keys)
    coming = _coming(keys)
    found = {}
    for house in houses:
        steps = [task for task in tasks.get(house.pk, ()) if task.state != Task.State.DONE]
        if house.archived_at or (tasks.get(house.pk) and not steps):
            continue
        # What was begun without a plan needs none.
        begun = any(task.state != Task.State.OPEN for task in tasks.get(house.pk, ())) or house.pk in hoops
        block = None if begun else _without_a_plan(house, phases.get(house.pk))
        if block is None and not tasks.get(house.pk) and not begun:
            block = Block(gettext("no steps yet"), reverse("crew:house-work", args=[house.slug]))
        for step in steps:
            block = block or _at(step, house, hoops.get(house.pk), coming, today)
        if block := block or _late(steps):
            found[house.pk] = block
    return found


def _without_a_plan(house: House, phase: HousePhase | None) -> Block | None:
    if phase is None or phase.phase == Phase.RELEASED:
        return Block(gettext("not planned yet"), f"{reverse('plans:new')}?{urlencode({'house': house.slug})}")
    if phase.phase < Phase.ACCEPTED:
        return Block(gettext("plan not accepted"), phase.plan.get_absolute_url())
    return None


def _at(
    step: Task,
    house: House,
    hoops: HouseHoops | None,
    coming: Mapping[tuple[int, str], list[_Coming]],
    today: date,
) -> Block | None:
    """What this step waits for; the last of its materials."""
    waited = [line for purpose in USES[WorkKind(step.kind)] for line in coming.get((house.pk, purpose), ())]
    if waited:
        # A draft comes on no day at all.
        return max(waited, key=lambda line: (not line.sent, line.due, line.order)).block(today)
    if step.kind not in GATED:
        return None
    if hoops is None:
        address = f"{reverse('hoops:batch-new')}?{urlencode({'house': house.slug})}"
        return Block(gettext("no batch yet"), address)
    trial = next((batch for batch in hoops.batches if batch.state == HoopBatch.State.TRIAL), None)
    return Block(gettext("trial not accepted"), trial.get_absolute_url()) if trial else None


def _late(steps: Sequence[Task]) -> Block | None:
    now = timezone.now()
    late = next((step for step in steps if step.ends_at and step.ends_at < now), None)
    return (
        Block(
            gettext("late: %(late)s") % {"late": late.get_kind_display().lower()}, reverse("crew:task", args=[late.pk])
        )
        if late
        else None
    )


def _coming(houses: Sequence[int]) -> dict[tuple[int, str], list[_Coming]]:
    """By house and purpose, what is held for it on orders; two queries."""
    own = Reservation.objects.filter(house__in=houses, order_line__isnull=False)
    pieces = HeldPiece.objects.filter(house__in=houses, reservation__order_line__isnull=False)
    found: dict[tuple[int, str], list[_Coming]] = {}
    for rows, way in ((own, "order_line"), (pieces, "reservation__order_line")):
        names = ("house", "purpose", *(f"{way}__{name}" for name in _LINE))
        for house, purpose, order, state, promised, need_by, late in rows.order_by().values_list(*names).distinct():
            line = _Coming(order, state != PurchaseOrder.State.DRAFT, due_day(promised, need_by, late))
            found.setdefault((house, purpose), []).append(line)
    return found
