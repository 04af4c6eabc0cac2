"""Reads of plans. The snapshots are large, so they are fetched only through plans.bridge."""

from collections.abc import Collection
from dataclasses import replace

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery

from farmbuild.buying.selectors import overtaken
from farmbuild.catalogue.bridge import offer_input
from farmbuild.catalogue.selectors import offers_of
from farmbuild.common.compiled import compiled_once
from farmbuild.measure.speech import sentence
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.plans import bridge
from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.plans.phases.selectors import with_phase
from farmbuild.plans.reserving.selectors import used_in_houses, used_of_plan
from farmbuild.plans.signals import AskedFor, asking_cooperatives, asking_fetched_lots, asking_what_became
from farmbuild.sites.models import Site
from farmbuild.stock.selectors import lots_of

#: Plans that stand beside other pages.
NEWEST = 5


def plans_of(*, organisation: Organisation) -> QuerySet[Plan]:
    return _whole(Plan.objects.of(organisation))


def _whole(plans: QuerySet[Plan]) -> QuerySet[Plan]:
    return plans.select_related("organisation", "delivery_site", "accepted_by").defer("inputs", "result")


def plans_with_totals(*, organisation: Organisation) -> QuerySet[Plan]:
    """Plans with ``house_count``, ``overtaken`` and ``phase``, by one query."""
    return _with_totals(plans_of(organisation=organisation))


def _with_totals(plans: QuerySet[Plan]) -> QuerySet[Plan]:
    one = Plan.objects.filter(pk=OuterRef("pk")).order_by().values("pk")
    return with_phase(plans).annotate(
        house_count=Subquery(one.annotate(n=Count("houses")).values("n")),
        overtaken=overtaken(accepted_at="accepted_at", plan="pk"),
    )


def newest_with_totals(*, organisation: Organisation) -> list[Plan]:
    """The ``NEWEST`` of them, the last first."""
    return _newest_with_totals(organisation.pk)


@compiled_once
def _newest_with_totals(organisation: int) -> QuerySet[Plan]:
    return _with_totals(_whole(Plan.objects.filter(organisation_id=organisation))).order_by("-number")[:NEWEST]


def houses_held_elsewhere(*, plan: Plan) -> list[str]:
    """Names of the plan's houses that another accepted plan builds."""
    others = PlanHouse.objects.filter(accepted=True, house__plans=plan).exclude(plan=plan)
    return list(others.order_by("house__name").values_list("house__name", flat=True))


def plan_of(
    *, organisation: Organisation, season: bridge.Season, digest: str, delivery_site: Site, from_common: bool = False
) -> Plan | None:
    """The first plan that was asked just this and has not stopped or been ended early.

    ``digest`` is that of ``season`` as stored now. What an earlier version stored has another, so plans that may be
    the same are compared as values.
    """
    rows = plans_of(organisation=organisation).filter(from_common=from_common)
    rows = rows.filter(ends_early=False).exclude(state=Plan.State.FAILED).order_by("number")
    if same := rows.filter(inputs_digest=digest).first():
        return same
    asked = rows.filter(as_of=season.as_of, delivery_site=delivery_site).exclude(inputs_digest=digest)
    return next((plan for plan in asked if bridge.same_inputs(plan, season)), None)


def changes_since(*, plan: Plan) -> list[str]:
    """What has changed since the plan's snapshot was taken, in sentences; empty when nothing has.

    What is on its way or came on the plan's own orders is what it asked for, and no change; nor is it when its houses
    get what they held by it, or it is cut for them.
    """
    then = bridge.season_of(plan)
    now = bridge.season_for(
        organisation=plan.organisation,
        houses=plan.houses.all(),
        delivery_site=plan.delivery_site,
        as_of=plan.as_of,
        from_common=plan.from_common and not plan.is_accepted,
    )
    if plan.is_accepted:
        # What it takes of common stock is kept for it; what else becomes of that concerns it no more.
        now = replace(now, lots=now.lots + tuple(lot for lot in then.lots if lot.common))
    own = set(
        lots_of(organisation=plan.organisation)
        .filter(receipt_lines__order_line__order__plan=plan)
        .values_list("reference", flat=True)
    )
    own |= bridge.own_lines(plan)
    if plan.from_common:
        own |= {ref for _, refs in asking_fetched_lots.send(Plan, plan=plan) for ref in refs}
    cut = lots_of(organisation=plan.organisation).filter(cut_from__cut__movements__used_holds__plan=plan)
    own |= set(cut.values_list("reference", flat=True)) - {lot.ref for lot in then.lots}
    used = used_of_plan(plan=plan)
    left = {lot.ref: lot.quantity for lot in now.lots}
    lots = [replace(lot, quantity=lot.quantity + used.get(lot.ref, 0)) for lot in now.lots if lot.ref not in own]
    lots += [replace(lot, quantity=used[lot.ref]) for lot in then.lots if lot.ref in used and lot.ref not in left]
    lots = tuple(sorted(lots, key=lambda lot: lot.ref))
    found = bridge.changes(then, replace(now, lots=lots)) + _handed_out_since(plan, then, now)
    return found + [row.lost for row in asked_of_common(plan=plan) if row.lost]


def asked_of_common(*, plan: Plan) -> list[AskedFor]:
    """What became of what an accepted plan asked for of common stock."""
    if not plan.from_common or not plan.is_accepted:
        return []
    return [row for _, rows in asking_what_became.send(Plan, plan=plan) for row in rows]


def _handed_out_since(plan: Plan, then: bridge.Season, now: bridge.Season) -> list[str]:
    """Houses that were given what they did not hold by the plan, or gave something back, in sentences."""
    if not bridge.knew_in_house(plan):
        return []
    before, after = bridge.sizes_in_house(then), bridge.sizes_in_house(now)
    given = used_in_houses(plan=plan)
    houses = bridge.house_names(now)
    names = {material.code: material.name for material in now.materials}
    sentences = []
    for house, material in sorted({*before, *after}):
        more = after[house, material] - before[house, material]
        if house in houses and not 0 <= more <= given[house, material]:
            told = {"house": houses[house], "material": names[material]}
            if more > 0:
                sentences.append(sentence("%(house)s has more %(material)s in it than it then had.", **told))
            else:
                sentences.append(sentence("%(house)s has less %(material)s in it than it then had.", **told))
    return sentences


def offered_since(*, organisation: Organisation, season: bridge.Season, result: bridge.SeasonPlan) -> set[str]:
    """Codes of materials that the plan cannot buy all of, and of which an offer that holds today was added since."""
    codes = {gap.material for gap in result.unmet}
    known = {(offer.ref, offer.length, offer.valid_until) for offer in season.offers}
    valid = Q(valid_until=None) | Q(valid_until__gte=today_of(organisation=organisation))
    rows = offers_of(organisation=organisation).filter(valid, material__code__in=codes) if codes else ()
    now = (offer_input(row) for row in rows)
    return {offer.material for offer in now if (offer.ref, offer.length, offer.valid_until) not in known}


def accepted_slugs(*, organisation: Organisation) -> set[str]:
    """Houses that an accepted plan builds."""
    rows = PlanHouse.objects.filter(accepted=True, plan__organisation=organisation)
    return set(rows.values_list("house__slug", flat=True))


def plans_of_houses(*, organisation: Organisation, houses: Collection[int]) -> dict[int, int]:
    """Number of the accepted plan that builds each of these houses, by the key of the house."""
    rows = PlanHouse.objects.filter(accepted=True, plan__organisation=organisation, house__in=houses)
    return dict(rows.values_list("house", "plan__number")) if houses else {}


def cooperatives_of(*, organisation: Organisation) -> list[str]:
    """Names of those that it is a member of, whose common stock its plans may take."""
    return [name for _, names in asking_cooperatives.send(Plan, organisation=organisation) for name in names]


def took_from_common(*, organisation: Organisation) -> bool:
    """Whether the latest plan did."""
    return bool(Plan.objects.of(organisation).order_by("-number").values_list("from_common", flat=True).first())
