"""A random season, step by step: what is needed is in the house, held, on order or still to buy, at every moment."""

from __future__ import annotations

import random
import re
from collections import Counter, defaultdict
from datetime import date
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.urls import reverse

from farmbuild.buying.incoming import incoming_lines
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.services import Arrival, receive_goods, send_order
from farmbuild.hoops.batches import services as batches
from farmbuild.hoops.models import HoopBatch
from farmbuild.plans import accepting, bridge, services
from farmbuild.plans.balance import balances
from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.plans.reserving import swapping
from farmbuild.plans.seasonend.bridge import serving_of
from farmbuild.plans.seasonend.selectors import left_after
from farmbuild.sites.models import House
from farmbuild.sites.services import archive_house, bring_back_house
from farmbuild.stock.cutting import cut_reserved
from farmbuild.stock.models import Lot, Movement, Reservation
from farmbuild.stock.reserving.selectors import reservations_of
from farmbuild.stock.services import issue_pieces, return_pieces, scrap
from tests import size
from tests.factories import FOOT, BenderFactory
from tests.hoops.batches.making import rise_over
from tests.plans.test_planning_again import SPRING
from tests.size import sized

DAY = date(2027, 3, 2)
HELD = reverse("stock:held")


class Season:
    """One season with a dice; each step does one thing that a person could do, or is refused."""

    def __init__(self, small, user, number: int) -> None:
        self.small, self.dice = small, random.Random(number)
        self.given = {"organisation": small.organisation, "user": user}
        self.bender = BenderFactory(organisation=small.organisation)
        self.did: Counter[str] = Counter()
        self.refused: Counter[str] = Counter()

    def houses(self) -> list[House]:
        live = House.objects.filter(archived_at=None).select_related("site", "recipe__tube", "organisation")
        return list(live.order_by("pk"))

    def step(self) -> str:
        acts = [self.plan, self.plan, self.accept, self.accept, self.send, self.receive, self.receive, self.issue]
        acts += [self.issue, self.back, self.cut, self.cut, self.bend, self.bend, self.spoil, self.spec, self.archive]
        acts += [self.scrap, self.release, self.swap, self.swap, self.swap]
        # What cannot be done now is refused, and something else is done.
        for act in self.dice.sample(acts, len(acts)):
            try:
                act()
            except (ValidationError, IndexError):
                self.refused[act.__name__] += 1
                continue
            self.did[act.__name__] += 1
            return act.__name__
        raise AssertionError("nothing can be done")

    def plan(self) -> None:
        houses = self.houses()
        some = self.dice.sample(houses, self.dice.randint(1, len(houses)))
        plan = services.create_plan(**self.small.ask(self.given["user"], houses=some, as_of=DAY)).plan
        services.work_out_plan(plan.pk)

    def accept(self) -> None:
        plans = [plan for plan in Plan.objects.filter(state=Plan.State.READY) if not plan.is_accepted]
        accepting.accept_plan(**self.given, plan=plans[0])

    def release(self) -> None:
        accepting.release_plan(**self.given, plan=self.dice.choice([p for p in Plan.objects.all() if p.is_accepted]))

    def send(self) -> None:
        drafts = PurchaseOrder.objects.filter(state=PurchaseOrder.State.DRAFT, plan__accepted_at__isnull=False)
        send_order(**self.given, order=self.dice.choice(list(drafts)), sent_on=DAY, how="by hand")

    def receive(self) -> None:
        order = self.dice.choice(list(PurchaseOrder.objects.filter(state__in=PurchaseOrder.OPEN)))
        arrivals = []
        for line in order.lines.all():
            if came := self.dice.randint(0, line.to_come):
                broken = self.dice.randint(0, min(2, came))
                arrivals.append(Arrival(line.pk, came, broken, "bent" if broken else ""))
        receive_goods(**self.given, order=order, arrivals=arrivals, received_on=DAY, token=str(uuid4()), place="Rack 1")

    def swap(self) -> None:
        """A house that waits takes what another has sooner; each holds as much as before."""
        organisation = self.given["organisation"]
        on_order = reservations_of(organisation=organisation).filter(order_line__isnull=False)
        pairs = [
            (waiting, sooner)
            for waiting in on_order
            for sooner in swapping.sooner_reservations(organisation=organisation, waiting=waiting)
        ]
        waiting, sooner = self.dice.choice(pairs)
        quantity = self.dice.randint(1, swapping.max_quantity(waiting, sooner))
        both = {"organisation": organisation, "quantity": quantity, "today": DAY}
        seen = swapping.effect_of(**both, waiting=waiting, held=sooner).seen
        before = held_by_house()
        swapping.swap(**both, user=self.given["user"], waiting=waiting.pk, held=sooner.pk, seen=seen)
        assert held_by_house() == before
        with pytest.raises(ValidationError):
            swapping.swap(**both, user=self.given["user"], waiting=waiting.pk, held=sooner.pk, seen=seen)

    def issue(self) -> None:
        hold = self.dice.choice(list(Reservation.objects.filter(lot__isnull=False, pieces=None)))
        quantity = self.dice.randint(1, hold.quantity)
        issue_pieces(**self.given, lot=hold.lot, quantity=quantity, reason="work", house=hold.house)

    def back(self) -> None:
        out = self.dice.choice(list(Movement.objects.filter(kind=Movement.Kind.ISSUE, house__isnull=False)))
        # Sticks of its batches come back on the page of the batch.
        of_it = {"lot__material": out.lot.material, "lot__length": out.lot.length, "house": out.house}
        moved = Movement.objects.filter(**of_it, kind__in=[Movement.Kind.ISSUE, Movement.Kind.RETURN])
        if sum(row.quantity for row in moved) < 0:
            return_pieces(**self.given, lot=out.lot, quantity=1, reason="over", house=out.house)

    def cut(self) -> None:
        hold = self.dice.choice(list(Reservation.objects.filter(lot__isnull=False, pieces__isnull=False).distinct()))
        cut_reserved(**self.given, reservation=hold, sticks=1)

    def bend(self) -> None:
        """A batch for a house that has none, or the next thing that its batch wants."""
        house = self.dice.choice(self.houses())
        batch = HoopBatch.objects.filter(houses=house).exclude(state=HoopBatch.State.DONE).first()
        if batch is None:
            batches.create_batch(
                **self.given,
                recipe=house.recipe,
                bender=self.bender,
                quantity=13,
                shares={house: 13},
                data={"post_span": house.post_span, "spring_in": SPRING},
            )
            return
        on = self.given | {"batch": batch}
        if batch.state == HoopBatch.State.TRIAL and batch.attempts:
            batches.accept_trial(**on, trial=batch.trials.last())
        elif batch.state == HoopBatch.State.TRIAL and batch.sticks_issued >= 2 + batch.sticks_spoilt:
            span = house.post_span + SPRING
            batches.record_trial(**on, data={"free_span": span, "rise": rise_over(span)})
        elif self.dice.random() < 0.5:
            lot = self.dice.choice(list(Lot.objects.filter(material=house.recipe.tube, on_hand__gt=1, offcut=False)))
            batches.issue_sticks(**on, lot=lot, quantity=2)
        else:
            batches.record_bent(**on, hoops=1)

    def spoil(self) -> None:
        batch = self.dice.choice(list(HoopBatch.objects.filter(sticks_issued__gt=0)))
        batches.write_off_sticks(**self.given, batch=batch, quantity=1, reason="kinked")

    def spec(self) -> None:
        house = self.dice.choice(self.houses())
        House.objects.filter(pk=house.pk).update(length=FOOT * 4 * self.dice.randint(8, 16))

    def archive(self) -> None:
        gone = House.objects.exclude(archived_at=None).first()
        if gone:
            bring_back_house(**self.given, house=gone)
        elif len(self.houses()) > 1:
            archive_house(**self.given, house=self.dice.choice(self.houses()))

    def scrap(self) -> None:
        scrap(**self.given, lot=self.dice.choice(list(Lot.objects.filter(on_hand__gt=0))), quantity=1, reason="rust")


def check(season: Season) -> None:
    """Each house has what went out for it, holds what is held for it, and is short of the rest."""
    organisation, houses = season.small.organisation, season.houses()
    found = balances(organisation=organisation, houses=houses)
    for house in houses:
        for row in found[house.pk].rows:
            parts = (row.in_house, row.held, row.on_order, row.to_find)
            assert min(parts) >= 0, (house.name, row)
            assert sum(parts) == row.needed
    _agrees_with_the_ledger(houses, found)


def held_by_house() -> Counter[tuple[int, str, Decimal | None]]:
    """Pieces by house, material and length, in the yard or on order."""
    held: Counter[tuple[int, str, Decimal | None]] = Counter()
    for hold in Reservation.objects.select_related("lot__material", "order_line__material"):
        thing = hold.lot or hold.order_line
        held[hold.house_id, thing.material.code, thing.length] += hold.quantity
    return held


def check_orders(season: Season) -> None:
    """Each line: what came by its receipts, what is to come, and what is held of that."""
    coming = {row.pk: row.waited for row in incoming_lines(organisation=season.small.organisation)}
    for line in PurchaseOrderLine.objects.select_related("order"):
        came = list(line.receipt_lines.all())
        assert line.arrived == sum(row.arrived for row in came), line
        assert line.good == sum(row.arrived - row.damaged for row in came), line
        outstanding = max(0, line.quantity - line.good)
        assert line.to_come == outstanding, line
        assert coming.get(line.pk, 0) == (outstanding if line.order.is_open else 0), line
        held = sum(row.quantity for row in Reservation.objects.filter(order_line=line))
        assert line.reserved == held <= outstanding, line
        if line.order.state == PurchaseOrder.State.CANCELLED:
            assert not held, line
        for row in came:
            first = row.lot and row.lot.movements.order_by("pk").first()
            assert (first.quantity if first else 0) == row.arrived - row.damaged, line


def check_held_page(season: Season, client) -> None:
    """What the page of who holds what says, of all, of each house and of each place, is what lots and lines say."""
    lots, lines = (sum(model.objects.values_list("reserved", flat=True)) for model in (Lot, PurchaseOrderLine))
    page = client.get(HELD)
    holds = list(Reservation.objects.all())
    assert page.context["count"] == len(holds)
    sums = page.context["sums"]
    # In words, one thing after the other: "8 sticks and 40 fasteners".
    yard, coming = (sum(int(n.replace(",", "")) for n in re.findall(r"\d[\d,]*", sums[w])) for w in ("yard", "coming"))
    assert (yard, coming) == (lots, lines)
    assert sums["houses"] == len({hold.house_id for hold in holds})
    for where, total in (("yard", lots), ("coming", lines)):
        assert sum(rows_of(client, where=where).values()) == total
    found = held_by_house()
    for house in House.objects.all():
        rows = rows_of(client, house=house.slug)
        assert rows == Counter({key[1:]: count for key, count in found.items() if key[0] == house.pk}), house


def rows_of(client, **narrowed: str) -> Counter[tuple[str, Decimal | None]]:
    """Pieces by material and length in the rows of every page of the list."""
    rows: Counter[tuple[str, Decimal | None]] = Counter()
    for number in range(1, 1000):
        table = client.get(HELD, narrowed | {"page": number}).context["table"]
        for row in table.page.object_list.data:
            thing = row.lot or row.order_line
            rows[thing.material.code, thing.length] += row.quantity
        if not table.page.has_next():
            return rows
    raise AssertionError("there are too many pages")


def check_leftovers(season: Season) -> None:
    """What is left after a day is on hand less what is held up to it; what next houses use of that is no more."""
    organisation, houses = season.small.organisation, season.houses()
    holds = list(Reservation.objects.filter(lot__isnull=False).prefetch_related("pieces"))
    lots = list(Lot.objects.filter(on_hand__gt=0))
    for day in {date(2027, 1, 1), date(2028, 1, 1), *(house.need_date for house in houses)}:
        left = {lot.pk: lot.left for lot in left_after(organisation=organisation, day=day)}
        held = Counter[int]()
        for hold in holds:
            held[hold.lot_id] += hold.quantity if hold.need_by <= day else 0
        assert left == {lot.pk: lot.on_hand - held[lot.pk] for lot in lots if lot.on_hand > held[lot.pk]}, day
        if day.year == 2028:
            assert left == {lot.pk: lot.free for lot in lots if lot.free}
    # Held by others: by a house that is not among these, or a stick that such a house gets a piece of.
    mine = {house.pk for house in houses}
    others = Counter[str]()
    by_pk = {lot.pk: lot.reference for lot in lots}
    for hold in holds:
        if not {hold.house_id, *(piece.house_id for piece in hold.pieces.all())} <= mine:
            others[by_pk[hold.lot_id]] += hold.quantity
    serving = serving_of(organisation=organisation, houses=houses, as_of=DAY)
    there = {lot.reference: lot.on_hand - others[lot.reference] for lot in lots}
    for reference, served in serving.items():
        assert served.there == there[reference], reference
        assert 0 < served.sticks <= served.there, reference


def check_plan(season: Season) -> None:
    """Whole sticks and counted things: a plan of all houses takes from free stock and buys what each has not got."""
    houses = season.houses()
    found = balances(organisation=season.small.organisation, houses=houses)
    inputs = bridge.season_for(
        organisation=season.small.organisation, houses=houses, delivery_site=season.small.north, as_of=DAY
    )
    plan = bridge.work_out(inputs)
    given: Counter[tuple[str, str, str, Decimal | None]] = Counter()
    for one in plan.already_there:
        given[one.house, one.purpose, one.material, one.length] += one.quantity
    rows = {(row.house, row.purpose, row.material, row.length): row.quantity for row in plan.takeoff}
    for house in houses:
        for row in found[house.pk].rows:
            if not row.run:
                key = (house.slug, row.purpose, row.material.code, row.length)
                assert rows[key] == row.needed
                assert given[key] == row.in_house, key
    # Nothing is bought while enough of it lies free or comes in time for these houses, the first needed first.
    supply: dict[tuple[str, Decimal | None], list[tuple[date, int]]] = defaultdict(list)
    for lot in inputs.lots:
        if not lot.offcut:
            supply[lot.material, lot.length].append((lot.available_from or date.min, lot.quantity))
    whole: dict[tuple[str, Decimal | None], Counter[str]] = defaultdict(Counter)
    for row in plan.takeoff:
        if row.whole:
            key = (row.house, row.purpose, row.material, row.length)
            whole[row.material, row.length][row.house] += row.quantity - given[key]
    bought: Counter[tuple[str, Decimal | None]] = Counter()
    for gap in plan.shortfalls:
        bought[gap.material, gap.length] += gap.quantity
    cut_too = {layout.material for layout in plan.layouts}
    for key, wanted in whole.items():
        if key[0] in cut_too:
            continue
        short = used = 0
        for house in sorted(houses, key=lambda house: house.need_date):
            there = sum(quantity for day, quantity in supply[key] if day <= house.need_date) - used
            taken = min(there, wanted[house.slug])
            used, short = used + taken, short + wanted[house.slug] - taken
        assert bought[key] == short, key


def _agrees_with_the_ledger(houses: list[House], found) -> None:
    for house in houses:
        held = Counter[str]()
        for hold in Reservation.objects.filter(house=house, pieces=None).select_related("lot", "order_line"):
            held[(hold.lot or hold.order_line).material.code] += hold.quantity
        balance = found[house.pk]
        for code, quantity in held.items():
            used = sum(row.held + row.on_order for row in balance.rows if row.material.code == code and not row.run)
            over = sum(one.quantity for one in balance.held_too_much if one.material == code)
            cut = any(row.material.code == code and row.run for row in balance.rows)
            assert cut or used + over >= quantity, (house.name, code)
        _has_what_went_out(house, balance)


def _has_what_went_out(house: House, balance) -> None:
    """Counted once more from the movements and the batches: in mm or pieces, by material."""
    out: Counter[str] = Counter()
    for moved in Movement.objects.filter(house=house, kind__in=["issue", "return"]).select_related("lot__material"):
        out[moved.lot.material.code] -= moved.quantity * (moved.lot.length or 1)
    for batch in HoopBatch.objects.filter(houses=house).select_related("recipe__tube"):
        sticks = min(batch.sticks_issued - batch.sticks_spoilt, 13 * batch.sticks_a_hoop)
        out[batch.recipe.tube.code] += sticks * batch.recipe.stick_length
    has: Counter[str] = Counter()
    for row in balance.rows:
        has[row.material.code] += row.in_house * (1 if row.run else row.length or 1)
    for one in balance.too_much:
        has[one.material] += one.quantity * (one.length or 1)
    assert +has == +out, house.name


@pytest.mark.parametrize("number", range(7, sized(8, 47)))
def test_everything_agrees_at_every_moment(season, user, signed_in, number):
    driven = Season(season, user, number)
    # Python draws the same steps for both databases.
    for n in range(sized(28 if size.on_another_database else 45, 120)):
        said = driven.step()
        try:
            check(driven)
            check_orders(driven)
            if n % 4 == 3:
                check_plan(driven)
                check_held_page(driven, signed_in)
                check_leftovers(driven)
                call_command("recount", verbosity=0)
        except AssertionError as error:
            raise AssertionError(f"after step {n}, {said}") from error
    assert len(driven.did) >= 8, driven.did


def test_an_accepted_plan_leaves_nothing_to_find(season, user):
    driven = Season(season, user, 1)
    plan = services.create_plan(**season.ask(user, as_of=DAY)).plan
    services.work_out_plan(plan.pk)
    accepting.accept_plan(**driven.given, plan=Plan.objects.get())
    assert PlanHouse.objects.filter(accepted=True).count() == 2
    found = balances(organisation=season.organisation, houses=driven.houses())
    assert not any(balance.short or balance.held_too_much for balance in found.values())
    assert Plan.objects.get().snapshot()[1].unmet == ()
