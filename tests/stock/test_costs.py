"""What things cost: frozen as they move, shared to the coin, and changed by no later price."""

from __future__ import annotations

from contextlib import suppress
from datetime import date
from decimal import Decimal
from functools import partial
from io import StringIO
from random import Random

import pytest
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from farmbuild.orgs.currency import why_fixed
from farmbuild.quotes.models import Customer, Job
from farmbuild.stock import cutting, ledger, services
from farmbuild.stock.cost_selectors import general_expense_of, material_cost_of, stock_books
from farmbuild.stock.costing import Books
from farmbuild.stock.models import CostShare, Lot, Movement, Repricing
from tests.factories import (
    FOOT,
    HouseFactory,
    LotFactory,
    MaterialFactory,
    OrganisationFactory,
    PlaceFactory,
    SiteFactory,
)
from tests.size import sized

pytestmark = pytest.mark.django_db


@pytest.fixture
def do(organisation, user):
    return lambda service, **given: service(organisation=organisation, user=user, **given)


@pytest.fixture
def receive(do, organisation):
    material = MaterialFactory(organisation=organisation)
    place = PlaceFactory(organisation=organisation)
    usual = {"material": material, "place": place, "received_on": date(2027, 3, 1), "length": FOOT * 10}
    return lambda **given: do(services.receive_lot, **(usual | given))


@pytest.fixture
def houses(organisation):
    site = SiteFactory(organisation=organisation)
    return [HouseFactory(site=site, name=f"House {at}", slug=f"house-{at}") for at in range(3)]


def cost_of(organisation, *houses) -> Decimal:
    rows = material_cost_of(organisation=organisation, houses=[house.pk for house in houses])
    return sum((row.amount for row in rows), Decimal(0))


def test_pieces_of_a_landed_lot_are_worth_half_a_coin_up():
    books = Books(3, Decimal("1.00"), Decimal("0.3333"), Decimal("1.00"), 3, "USD")
    assert [books.worth(pieces) for pieces in (1, 2, 3)] == [Decimal("0.33"), Decimal("0.67"), Decimal("1.00")]


def test_two_lots_at_two_prices(do, receive, organisation, houses):
    """20 x 12.90 + 22 x 15.10 = 590.20."""
    for pieces, price in ((20, "12.90"), (22, "15.10")):
        lot = receive(quantity=pieces + 5, unit_cost=Decimal(price))
        do(services.issue_pieces, lot=lot, quantity=pieces, reason="frame", house=houses[0])
    [row] = material_cost_of(organisation=organisation, houses=[houses[0].pk])
    assert (row.quantity, row.amount, row.length) == (42, Decimal("590.20"), FOOT * 10)
    assert stock_books(organisation=organisation).off == 0


def test_screws_that_cost_less_than_a_coin(do, receive, organisation, houses):
    """163 of 500 at 0.0655 are 10.68, and the last of them takes what is left of the 32.75."""
    lot = receive(quantity=500, unit_cost=Decimal("0.0655"))
    do(services.issue_pieces, lot=lot, quantity=163, reason="film", house=houses[0])
    assert cost_of(organisation, houses[0]) == Decimal("10.68")
    for _ in range(3):
        do(services.issue_pieces, lot=lot, quantity=1, reason="film", house=houses[1])
    assert cost_of(organisation, houses[1]) == Decimal("0.19"), "32.75 less 10.68 is 22.07, and 334 are worth 21.88"
    do(services.issue_pieces, lot=lot, quantity=334, reason="film", house=houses[2])
    lot.refresh_from_db()
    assert (lot.on_hand, lot.value) == (0, 0)
    assert cost_of(organisation, *houses) == Decimal("32.75")


@pytest.mark.parametrize(
    ("currency", "landed", "parts"), [("JPY", "1000", "333 334 333"), ("KWD", "1", ".333 .334 .333")]
)
def test_a_landed_amount_is_taken_apart_to_the_coin(do, receive, organisation, houses, currency, landed, parts):
    organisation.currency = currency
    organisation.save()
    lot = receive(quantity=3, amount=Decimal(landed))
    for house, part in zip(houses, parts.split(), strict=True):
        do(services.issue_pieces, lot=lot, quantity=1, reason="frame", house=house)
        assert cost_of(organisation, house) == Decimal(part)
    assert stock_books(organisation=organisation).off == 0


def test_landed_lots_are_worth_what_all_of_it_cost(do, organisation):
    material, place = MaterialFactory(organisation=organisation), PlaceFactory(organisation=organisation)
    usual = {"material": material, "place": place, "received_on": date(2027, 3, 1), "length": FOOT * 10}
    new = [
        services.NewLot(quantity=41, amount=Decimal("1430.24"), **usual),
        services.NewLot(quantity=5, unit_cost=Decimal("2.005"), **usual),
    ]
    lots = do(services.receive_lots, lots=new)
    assert [(lot.value, lot.unit_cost) for lot in lots] == [
        (Decimal("1430.24"), Decimal("34.8839")),
        (Decimal("10.03"), Decimal("2.005")),
    ]
    assert stock_books(organisation=organisation).came_in == Decimal("1440.27")


def test_another_price_changes_what_lies_there_and_nothing_that_went_out(do, receive, organisation, houses):
    lot = receive(quantity=10, unit_cost=Decimal("1.02"))
    do(services.issue_pieces, lot=lot, quantity=4, reason="frame", house=houses[0])
    row = do(services.reprice_lot, lot=lot, unit_cost=Decimal(17), reason="Typed wrongly")
    assert (row.pieces, row.old_cost, row.new_cost, row.amount) == (6, Decimal("1.02"), 17, Decimal("95.88"))
    assert cost_of(organisation, houses[0]) == Decimal("4.08")
    do(services.issue_pieces, lot=lot, quantity=1, reason="frame", house=houses[1])
    assert cost_of(organisation, houses[1]) == 17
    back = do(services.return_pieces, lot=lot, quantity=4, reason="spare", house=houses[0])
    assert (back.amount, cost_of(organisation, houses[0])) == (Decimal("4.08"), 0), "it brings back what it had cost"
    books = stock_books(organisation=organisation)
    assert (books.repriced, books.on_hand, books.off) == (Decimal("95.88"), Decimal("89.08"), 0)
    assert do(services.reprice_lot, lot=lot, unit_cost=Decimal(17), reason="again") is None
    with pytest.raises(ValidationError, match="Say why"):
        do(services.change_lot, lot=lot, data={"unit_cost": Decimal(3)})


def test_the_currency_stays_while_anything_had_a_cost(do, receive, organisation):
    lot = receive(quantity=2, unit_cost=Decimal(3))
    do(services.reprice_lot, lot=lot, unit_cost=Decimal(0), reason="Given to us")
    assert "the costs of 1 lot" in why_fixed(organisation)


def test_what_came_in_is_reversed_at_what_it_came_in_for(do, receive, organisation):
    lot = receive(quantity=10, unit_cost=Decimal(10))
    more = do(services.receive_more, lot=lot, quantity=10)
    do(services.reprice_lot, lot=lot, unit_cost=Decimal(6), reason="Dented")
    [back] = do(ledger.reverse, movement=more, reason="never came")
    lot.refresh_from_db()
    assert (back.amount, lot.value) == (-100, 60), "the change of price goes with the pieces"
    assert list(Repricing.objects.values_list("amount", flat=True)) == [-80, 40]
    assert stock_books(organisation=organisation).off == 0


def test_a_cut_keeps_the_value_and_goes_where_it_was_for(do, receive, organisation, houses):
    lot = receive(quantity=5, unit_cost=Decimal("12.90"))
    done = do(cutting.cut_sticks, lot=lot, sticks=3, pieces=[FOOT * 4, FOOT * 3], house=houses[0])
    assert done.offcut.value == Decimal("11.53"), "908.05 of 3 048 mm of each"
    assert cost_of(organisation, houses[0]) == Decimal("27.17"), "what the saw took too"
    moved = done.cut.movements.filter(kind="cut")
    assert sum(row.amount for row in moved) == 0
    scrap = do(cutting.cut_sticks, lot=lot, sticks=1, pieces=[FOOT * 9], house=houses[1])
    assert scrap.cut.scrap_nm and cost_of(organisation, houses[1]) == Decimal("12.90")
    do(ledger.reverse, movement=moved[0], reason="wrong lot")
    assert cost_of(organisation, houses[0]) == 0
    lot.refresh_from_db()
    assert (lot.on_hand, lot.value) == (4, Decimal("51.60"))
    assert stock_books(organisation=organisation).off == 0


def test_moved_and_lent_pieces_keep_their_worth(do, receive, organisation):
    lot = receive(quantity=3, amount=Decimal("10"))
    there = do(ledger.move_pieces, lot=lot, quantity=2, place=PlaceFactory(organisation=organisation))
    lot.refresh_from_db()
    assert (lot.value, there.value) == (Decimal("3.33"), Decimal("6.67"))
    loan = do(ledger.lend_pieces, lot=there, quantity=2, borrower="Ana")
    assert stock_books(organisation=organisation).lent == Decimal("6.67")
    parts = [do(ledger.return_loan, loan=loan, quantity=1).amount for _ in range(2)]
    assert parts == [Decimal("3.34"), Decimal("3.33")]
    assert stock_books(organisation=organisation).off == 0


def test_general_expense_says_what_for(do, receive, organisation, houses):
    lot = receive(quantity=20, unit_cost=Decimal(2))
    do(services.scrap, lot=lot, quantity=1, reason="bent")
    do(services.scrap, lot=lot, quantity=2, reason="bent for it", house=houses[0])
    do(services.issue_pieces, lot=lot, quantity=3, reason="a gate")
    do(services.adjust_by_count, lot=lot, counted=10, seen=14, reason="counted")
    rows = {row.reason: row.amount for row in general_expense_of(organisation=organisation)}
    assert rows == {"Differences found by counting": 8, "Scrapped, for no house": 2, "Issued, for no house": 6}
    assert cost_of(organisation, houses[0]) == 4


def test_a_return_never_brings_back_more_than_the_house_bears(do, receive, organisation, houses):
    lot = receive(quantity=5, unit_cost=Decimal(3))
    dear = receive(quantity=5, unit_cost=Decimal(50), length=FOOT * 4)
    do(services.issue_pieces, lot=lot, quantity=2, reason="frame", house=houses[0])
    do(services.return_pieces, lot=dear, quantity=2, reason="ends of it", house=houses[0])
    assert cost_of(organisation, houses[0]) == 0
    assert stock_books(organisation=organisation).off == 0


def test_what_comes_back_from_nobody_by_name_twice_over(do, receive, organisation):
    """More came back than went out; the pieces that are out of another lot by then cost nobody less than nothing."""
    cheap, dear, third = (receive(quantity=9, unit_cost=Decimal(cost)) for cost in (1, 50, 7))
    do(services.issue_pieces, lot=cheap, quantity=3, reason="a gate")
    do(services.return_pieces, lot=dear, quantity=4, reason="found them")
    do(services.issue_pieces, lot=dear, quantity=5, reason="a gate")
    do(services.return_pieces, lot=third, quantity=2, reason="spare")
    assert stock_books(organisation=organisation).off == 0


# What the database holds


def refused(words: str, work) -> None:
    with pytest.raises(IntegrityError, match=words), transaction.atomic():
        work()


def test_the_database_holds_what_it_cost(do, receive, houses):
    lot = receive(quantity=5, unit_cost=Decimal(3))
    out = do(services.issue_pieces, lot=lot, quantity=2, reason="frame", house=houses[0])
    do(services.reprice_lot, lot=lot, unit_cost=Decimal(4), reason="Invoice came")
    refused("share_never_edited", lambda: CostShare.objects.update(amount=1))
    refused("share_never_deleted", lambda: CostShare.objects.all()._raw_delete(connection.alias))
    refused("repricing_never_edited", lambda: Repricing.objects.update(amount=1))
    refused("repricing_never_deleted", lambda: Repricing.objects.all()._raw_delete(connection.alias))
    refused("movement_never_edited", lambda: Movement.objects.update(amount=-1))
    refused("lot_value_is_true", lambda: Lot.objects.update(value=1))
    refused("lot_cost_by_repricing", lambda: Lot.objects.update(unit_cost=1))
    share = partial(CostShare.objects.create, movement=out)
    refused("(?i)unique", lambda: share(house=houses[0], quantity=0, amount=0))
    refused("within_its_movement", lambda: share(house=houses[1], quantity=0, amount=1))
    refused("within_its_movement", lambda: share(house=houses[1], quantity=1, amount=0))
    refused("of_its_organisation", lambda: share(house=HouseFactory(), quantity=0, amount=0))
    make = partial(Movement.objects.create, lot=lot, kind="issue")
    refused("amount_goes_along", lambda: make(quantity=-1, amount=1))
    refused("reverses_its_amount", lambda: make(quantity=2, amount=5, reverses=out))
    refused("lot_starts_worth_nothing", lambda: LotFactory(material=lot.material, value=1, on_hand=0))


def test_the_recount_looks_at_values_too(do, receive):
    lot = receive(quantity=5, unit_cost=Decimal(3))
    do(services.scrap, lot=lot, quantity=1, reason="bent")
    said = StringIO()
    call_command("recount", stdout=said)
    assert "is worth what its ledger adds up to" in said.getvalue()
    # Behind the back of the services, as no page does.
    Movement.objects.create(lot=lot, kind="lend", borrower="Ana", quantity=-1, amount=-3)
    Lot.objects.update(on_hand=3)
    if connection.vendor == "sqlite":
        Movement.objects.create(lot=lot, kind="issue", quantity=-1, amount=-3)
        Lot.objects.update(on_hand=2)
        with pytest.raises(CommandError):
            call_command("recount", stdout=said)
        assert "Issued −1 of lot" in said.getvalue()


# Everything together


def step(chance: Random, do, organisation, houses) -> None:
    """One thing that somebody does; what is refused changes nothing."""
    lot = chance.choice(list(Lot.objects.of(organisation).order_by("pk")))
    house = chance.choice([*houses, None])
    some = chance.randint(1, max(1, lot.on_hand))
    movement = chance.choice(list(Movement.objects.filter(lot__organisation=organisation).order_by("pk")))
    loans = list(Movement.objects.filter(lot__organisation=organisation, kind="lend", reverses=None).order_by("pk"))
    price = Decimal(chance.randint(0, 300_000)).scaleb(-4)
    acts = [
        lambda: do(services.issue_pieces, lot=lot, quantity=some, reason="work", house=house),
        lambda: do(
            services.issue_pieces, lot=lot, quantity=some, reason="batch", sharing=[(houses[0], 12), (houses[2], 7)]
        ),
        lambda: do(services.return_pieces, lot=lot, quantity=chance.randint(1, 3), reason="spare", house=house),
        lambda: do(services.scrap, lot=lot, quantity=chance.randint(1, 2), reason="bent", house=house),
        lambda: do(
            services.adjust_by_count,
            lot=lot,
            counted=max(0, lot.on_hand + chance.randint(-3, 3)),
            seen=lot.on_hand,
            reason="counted",
        ),
        lambda: do(services.receive_more, lot=lot, quantity=chance.randint(1, 9)),
        lambda: do(services.reprice_lot, lot=lot, unit_cost=price, reason="price"),
        lambda: do(
            cutting.cut_sticks, lot=lot, sticks=min(some, 3), pieces=[FOOT * 3, FOOT * 2, FOOT * 3], house=house
        ),
        lambda: do(ledger.move_pieces, lot=lot, quantity=some, place=PlaceFactory(organisation=organisation)),
        lambda: do(ledger.lend_pieces, lot=lot, quantity=min(some, 4), borrower="Ana"),
        lambda: do(ledger.return_loan, loan=chance.choice(loans), quantity=1) if loans else None,
        lambda: do(ledger.reverse, movement=movement, reason="slip"),
        lambda: do(ledger.reverse, movement=movement, reason="slip"),
    ]
    with suppress(ValidationError):
        chance.choice(acts)()


@pytest.mark.parametrize("currency", ["USD", "JPY", "KWD"])
def test_whatever_is_done_it_adds_up_to_the_coin(do, receive, organisation, houses, currency):
    organisation.currency = currency
    organisation.save()
    chance = Random(20261129)
    for pieces in (500, 20, 7):
        receive(quantity=pieces, unit_cost=Decimal(chance.randint(1, 400_000)).scaleb(-4))
    receive(quantity=13, amount=Decimal(1000))
    for at in range(sized(60, 800)):
        borne, moved = cost_of(organisation, *houses), Movement.objects.count()
        step(chance, do, organisation, houses)
        books = stock_books(organisation=organisation)
        assert books.off == 0, at
        if Movement.objects.count() == moved:
            assert borne == cost_of(organisation, *houses), "a price changes no past cost"
    assert all(cost_of(organisation, house) >= 0 for house in houses)
    for lot in Lot.objects.of(organisation):
        do(services.adjust_by_count, lot=lot, counted=lot.reserved, seen=lot.on_hand, reason="nothing there")
    books = stock_books(organisation=organisation)
    assert (books.on_hand, books.off) == (0, 0)
    call_command("recount", stdout=StringIO())


def test_few_queries_whatever_the_size(do, receive, organisation, houses):
    lot = receive(quantity=50, unit_cost=Decimal(3))

    def asked() -> int:
        with CaptureQueriesContext(connection) as seen:
            material_cost_of(organisation=organisation, houses=[house.pk for house in houses])
            general_expense_of(organisation=organisation)
            stock_books(organisation=organisation)
        return len(seen)

    before = asked()
    for house in (*houses, *houses, None):
        do(services.issue_pieces, lot=lot, quantity=2, reason="work", house=house)
    assert asked() == before <= 8


class TestJobsAsAWhole:
    @pytest.fixture
    def job(self, organisation):
        customer = Customer.objects.create(organisation=organisation, name="Invented", slug="invented")
        return Job.objects.create(organisation=organisation, number=1, customer=customer, name="Fence")

    def test_issue_scrap_and_return(self, do, receive, organisation, houses, job):
        """3 at 7.77 and 1 of another lot at 2.50, one spoilt, one back: 15.54 + 2.50 stay."""
        lot, other = receive(quantity=5, unit_cost=Decimal("7.77")), receive(quantity=2, unit_cost=Decimal("2.50"))
        movement = do(services.issue_pieces, lot=lot, quantity=2, reason="", job=job)
        assert (movement.reason, movement.house) == (f"For {job}", None)
        do(services.issue_pieces, lot=other, quantity=1, reason="gate", job=job)
        do(services.scrap, lot=lot, quantity=1, reason="bent twice", job=job)
        do(services.return_pieces, lot=lot, quantity=1, reason="", job=job)
        rows = material_cost_of(organisation=organisation, houses=[], job=job.pk)
        assert {(row.house, row.job) for row in rows} == {(None, job.pk)}
        assert sum(row.amount for row in rows) == Decimal("18.04")
        assert material_cost_of(organisation=organisation, houses=[house.pk for house in houses]) == []
        assert general_expense_of(organisation=organisation) == []
        books = stock_books(organisation=organisation)
        assert (books.off, books.jobs, books.general) == (0, Decimal("18.04"), 0)

    def test_what_is_reversed_comes_off_the_job(self, do, receive, organisation, job):
        lot = receive(quantity=5, unit_cost=Decimal("7.77"))
        movement = do(services.issue_pieces, lot=lot, quantity=3, reason="", job=job)
        do(ledger.reverse, movement=movement, reason="wrong lot")
        assert stock_books(organisation=organisation).jobs == 0
        assert material_cost_of(organisation=organisation, houses=None) == []

    def test_no_more_comes_back_than_went_out(self, do, receive, organisation, job):
        lot = receive(quantity=5, unit_cost=Decimal(1))
        do(services.issue_pieces, lot=lot, quantity=2, reason="", job=job)
        do(services.issue_pieces, lot=lot, quantity=1, reason="somewhere else")
        with pytest.raises(ValidationError, match="2 pieces of these are out for J-0001"):
            do(services.return_pieces, lot=lot, quantity=3, reason="", job=job)
        do(services.return_pieces, lot=lot, quantity=2, reason="", job=job)
        with pytest.raises(ValidationError, match="None of these are out for J-0001"):
            do(services.return_pieces, lot=lot, quantity=1, reason="", job=job)
        assert stock_books(organisation=organisation).jobs == 0

    def test_a_house_or_a_job(self, do, receive, houses, job):
        lot = receive(quantity=5)
        for service in (services.issue_pieces, services.return_pieces, services.scrap):
            with pytest.raises(ValidationError, match="one of the two"):
                do(service, lot=lot, quantity=1, reason="both", house=houses[0], job=job)

    def test_the_database_keeps_jobs_of_others_out(self, do, receive, organisation, houses, job):
        lot = receive(quantity=5, unit_cost=Decimal(1))
        movement = do(services.issue_pieces, lot=lot, quantity=1, reason="gate")
        other = OrganisationFactory()
        customer = Customer.objects.create(organisation=other, name="Other", slug="other")
        theirs = Job.objects.create(organisation=other, number=1, customer=customer, name="Theirs")
        with pytest.raises(ValidationError):
            do(services.issue_pieces, lot=lot, quantity=1, reason="", job=theirs)
        for given in ({"job": theirs}, {"job": job, "house": houses[0]}):
            with pytest.raises(IntegrityError), transaction.atomic():
                CostShare.objects.create(movement=movement, quantity=0, amount=0, **given)

    def test_through_the_forms(self, receive, organisation, signed_in, job):
        lot = receive(quantity=5, unit_cost=Decimal("7.77"))
        for page, more in (("issue", {}), ("scrap", {"reason": "bent"}), ("return", {})):
            address = reverse(f"stock:lot-{page}", args=[lot.pk])
            assert "Or a job as a whole" in signed_in.get(address).content.decode()
            answer = signed_in.post(address, {"quantity": 1, "job": job.pk} | more)
            assert answer.status_code == 302, answer.content.decode()
        assert stock_books(organisation=organisation).jobs == Decimal("7.77")
        [share] = CostShare.objects.filter(movement__kind="scrap")
        page = signed_in.get(reverse("stock:movement", args=[share.movement_id])).content.decode()
        assert f"{job}, as a whole" in page
