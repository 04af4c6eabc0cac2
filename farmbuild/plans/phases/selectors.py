"""How far plans are, from what is there: accepted or not, its orders, and the work at its houses."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from django.db import models
from django.db.models import Case, Count, Exists, F, IntegerField, Max, Min, OuterRef, Q, QuerySet, Sum, Value, When
from django.db.models.functions import Coalesce

from farmbuild.buying.incoming import still_to_come
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.catalogue.words import PIECE_NOUNS, piece_noun
from farmbuild.common.compiled import compiled_once
from farmbuild.measure.speech import gettext_noop
from farmbuild.orgs.models import Organisation
from farmbuild.plans.models import Plan, PlanHouse

State = PurchaseOrder.State


class Phase(models.IntegerChoices):
    """In the order in which a plan goes through them; a released one is tried again or left."""

    NOT_READY = 0, gettext_noop("Not worked out")
    RELEASED = 1, gettext_noop("Released")
    TRIED = 2, gettext_noop("Tried")
    ACCEPTED = 3, gettext_noop("Accepted")
    SENT = 4, gettext_noop("Sent")
    PART = 5, gettext_noop("Part received")
    RECEIVED = 6, gettext_noop("Received")
    WORK = 7, gettext_noop("In work")
    DONE = 8, gettext_noop("Done")


def with_phase(rows: QuerySet[Plan]) -> QuerySet[Plan]:
    """Plans with ``phase``, by the same query."""
    orders = PurchaseOrder.objects.filter(plan=OuterRef("pk")).exclude(state=State.CANCELLED).order_by()
    houses = PlanHouse.objects.filter(plan=OuterRef("pk"), accepted=True)
    tasks = houses.filter(house__tasks__isnull=False)
    begun = houses.filter(Q(house__tasks__state__in=["started", "done"]) | Q(house__hoop_batches__hoops_bent__gt=0))
    came = orders.filter(state__in=[State.PART, State.RECEIVED])
    return rows.annotate(
        phase=Case(
            When(~Q(state=Plan.State.READY), then=Value(Phase.NOT_READY)),
            When(accepted_at=None, then=Value(Phase.TRIED)),
            When(released_at__isnull=False, then=Value(Phase.RELEASED)),
            When(
                Exists(tasks) & ~Exists(tasks.filter(house__tasks__state__in=["open", "started"])),
                then=Value(Phase.DONE),
            ),
            When(Exists(begun), then=Value(Phase.WORK)),
            When(~Exists(orders), then=Value(Phase.ACCEPTED)),
            When(~Exists(orders.exclude(state=State.RECEIVED)), then=Value(Phase.RECEIVED)),
            When(Exists(came), then=Value(Phase.PART)),
            When(Exists(orders.filter(state=State.DRAFT)), then=Value(Phase.ACCEPTED)),
            default=Value(Phase.SENT),
            output_field=IntegerField(),
        )
    )


def phases_of(*, organisation: Organisation, plans: Collection[int]) -> dict[int, Phase]:
    """By the key of the plan; one query."""
    return {pk: Phase(phase) for pk, phase in _phases_of(organisation.pk, plans)}


@compiled_once
def _phases_of(organisation: int, plans: Sequence[int]) -> QuerySet[Plan]:
    rows = with_phase(Plan.objects.filter(organisation_id=organisation, pk__in=plans)).order_by()
    return rows.values_list("pk", "phase")


@dataclass(frozen=True)
class HousePhase:
    """``plan`` comes without its snapshots."""

    plan: Plan
    phase: Phase


def phases_of_houses(*, organisation: Organisation, houses: Collection[int]) -> dict[int, HousePhase]:
    """By the key of the house, the plan that builds it, or else the latest worked out for it; two queries."""
    # The last of each house stands: the accepted one, or else the latest.
    plan_of = dict(_plans_of_houses(organisation.pk, houses))
    plans = {plan.pk: plan for plan in _plans_with_phase(sorted(set(plan_of.values())))} if plan_of else {}
    return {house: HousePhase(plans[plan], Phase(plans[plan].phase)) for house, plan in plan_of.items()}


@compiled_once
def _plans_of_houses(organisation: int, houses: Sequence[int]) -> QuerySet[PlanHouse]:
    rows = PlanHouse.objects.filter(house__in=houses, plan__organisation=organisation, plan__state=Plan.State.READY)
    return rows.order_by("accepted", "plan__number").values_list("house", "plan")


@compiled_once
def _plans_with_phase(plans: Sequence[int]) -> QuerySet[Plan]:
    return with_phase(Plan.objects.filter(pk__in=plans).defer("inputs", "result")).order_by()


@dataclass(frozen=True)
class ToCome:
    """So many of one noun, the last of them ``by`` that day, as promised or else as needed."""

    noun: str
    count: int
    by: date


@dataclass(frozen=True)
class Delivery:
    """What was sent for: ``came`` of ``ordered`` sticks whole, and what is ``to_come``, sticks first."""

    ordered: int
    came: int
    to_come: tuple[ToCome, ...]


@dataclass(frozen=True)
class Standing:
    """``orders`` not cancelled, of them ``unsent``; ``to_send`` and ``to_receive``: the next order of each."""

    orders: int
    unsent: int
    to_send: PurchaseOrder | None
    to_receive: PurchaseOrder | None
    delivery: Delivery
    tasks: int
    tasks_done: int


def standing_of(*, plan: Plan) -> Standing:
    """Figures of one plan; as few queries for many orders and houses as for one."""
    orders = PurchaseOrder.objects.filter(plan=plan).exclude(state=State.CANCELLED)
    counted = orders.aggregate(all=Count("pk"), unsent=Count("pk", filter=Q(state=State.DRAFT)))
    tasks = PlanHouse.objects.filter(plan=plan, accepted=True).aggregate(
        all=Count("house__tasks"), done=Count("house__tasks", filter=Q(house__tasks__state="done"))
    )
    return Standing(
        orders=counted["all"],
        unsent=counted["unsent"],
        to_send=orders.filter(state=State.DRAFT).order_by("order_by", "pk").first(),
        to_receive=_first_to_come(orders),
        delivery=_delivery(plan),
        tasks=tasks["all"],
        tasks_done=tasks["done"],
    )


def _first_to_come(orders: QuerySet[PurchaseOrder]) -> PurchaseOrder | None:
    waiting = Q(lines__closed_at=None, lines__quantity__gt=F("lines__arrived") - F("lines__damaged"))
    day = Min(Coalesce("lines__promised_on", "lines__need_by"), filter=waiting)
    return orders.filter(state__in=PurchaseOrder.OPEN).annotate(first_day=day).order_by("first_day", "pk").first()


def _delivery(plan: Plan) -> Delivery:
    sent = PurchaseOrderLine.objects.filter(order__plan=plan, order__state__in=[*PurchaseOrder.OPEN, State.RECEIVED])
    lines = sent.annotate(waited=still_to_come(), due=Coalesce("promised_on", "need_by")).order_by()
    ordered, came = 0, 0
    coming: dict[str, list[tuple[int, date]]] = {noun: [] for noun in (*PIECE_NOUNS.values(), "piece")}
    for row in lines.values("material__kind").annotate(
        ordered=Sum("quantity"),
        came=Sum(F("arrived") - F("damaged")),
        coming=Sum("waited"),
        last=Max("due", filter=Q(waited__gt=0)),
    ):
        noun = piece_noun(row["material__kind"])
        if noun == "stick":
            ordered, came = ordered + row["ordered"], came + row["came"]
        if row["coming"]:
            coming[noun].append((row["coming"], row["last"]))
    to_come = (
        ToCome(noun, sum(n for n, _ in some), max(day for _, day in some)) for noun, some in coming.items() if some
    )
    return Delivery(ordered, came, tuple(to_come))
