"""Through random work all that was charged and what lies in the yard is all that came in, to the coin; a price or rate
that changes afterwards changes no past cost."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command

from farmbuild.costs.equipment import services as equipment
from farmbuild.costs.law import faults_of, sides_of
from farmbuild.costs.models import EquipmentDay, PaidTime, Trip
from farmbuild.costs.rates import set_equipment_rate, set_pay_rate, set_trip_rate
from farmbuild.costs.statement.houses import costs_of
from farmbuild.costs.statement.lines import statement_of
from farmbuild.costs.time.services import put_waiting, take_back_time, type_time
from farmbuild.costs.trips import services as trips
from farmbuild.crew.actuals.taking_back import take_back
from farmbuild.crew.hours.selectors import runs_of
from farmbuild.crew.hours.services import approve, correct
from farmbuild.orgs.models import Membership
from farmbuild.quotes.against.used import used_of
from farmbuild.stock import services as stock
from farmbuild.stock.models import Lot
from tests.buying.invoices.bought import bill, receive
from tests.buying.sent_order import sent_order
from tests.costs.making import DAY, FIRST, Team, a_task
from tests.crew.hours.making import a_run
from tests.factories import BenderFactory, HouseFactory, MaterialFactory, PlaceFactory
from tests.quotes.agreed import accepted_job
from tests.size import sized
from tests.stock.test_ledger_races import Worker

pytestmark = pytest.mark.django_db
OPERATIONS = sized(120, 2_000)


class Season(Worker):
    """Whoever does the work of a season alone, and changes prices as they go."""

    def __init__(self, number, team):
        member = Membership.objects.get(organisation=team.organisation, user=team.user)
        material = MaterialFactory(organisation=team.organisation)
        places = [PlaceFactory(organisation=team.organisation) for _ in range(2)]
        houses = [team.house, *(a_task(team.organisation, team.crew).house for _ in range(2))]
        super().__init__(number, member, material, places, houses)
        self.team = team
        bender = BenderFactory(organisation=team.organisation)
        self.bender = bender
        self.thing = set_equipment_rate(**team.who, since=FIRST, a_day=Decimal(18), bender=bender).equipment
        set_trip_rate(**team.who, since=FIRST, each=Decimal("27.28"))
        self.job = accepted_job(team.organisation, team.user)
        self.runs = 0
        for _ in range(10):
            self.receive()

    def work(self, operations):
        """``operations`` at random, those that change prices checked to change no past cost."""
        kinds = self.kinds()
        prices = [self.reprice, self.new_rate]
        for at in range(operations):
            price = not at % 6
            kind = self.chance.choice(prices if price else kinds)
            before = costs_of(organisation=self.team.organisation) if price else None
            try:
                kind()
                self.done[kind.__name__] += 1
            except ValidationError:
                self.refused[kind.__name__] += 1
            if price:
                assert costs_of(organisation=self.team.organisation) == before, kind
            if not at % 20:
                assert [*faults_of(organisation=self.team.organisation)] == []
        return self

    def kinds(self):
        return [
            *(self.receive, self.issue, self.bring_back, self.scrap, self.count, self.move, self.cut, self.reverse),
            *(self.issue, self.type, self.press, self.approve, self.correct, self.undo, self.equipment, self.trip),
            *(self.take_back, self.put),
        ]

    def house(self):
        return self.chance.choice(self.houses)

    def day(self):
        return DAY + timedelta(days=self.chance.randint(0, 4))

    def price(self):
        return Decimal(self.chance.randint(1, 999_999)) / 10_000

    def lot(self):
        try:
            return super().lot()
        except IndexError as error:
            raise ValidationError("None yet.") from error

    def issue(self):
        bearer = self.bearer() if self.chance.random() < 0.8 else {}
        stock.issue_pieces(**self.given, lot=self.lot(), quantity=self.pieces(), reason="work", **bearer)

    def bring_back(self):
        stock.return_pieces(**self.given, lot=self.lot(), quantity=1, reason="work", **self.bearer())

    def bearer(self):
        return {"house": self.house()} if self.chance.random() < 0.6 else {"job": self.job}

    def reprice(self):
        stock.reprice_lot(**self.given, lot=self.lot(), unit_cost=self.price(), reason="Dearer")

    def new_rate(self):
        who = self.given | {"since": self.day()}
        whose = self.chance.choice([{}, {"person": self.team.ann}, {"crew": self.team.crew}])
        set_pay_rate(**who, an_hour=self.price(), **whose)
        set_trip_rate(**who, each=self.price())
        set_equipment_rate(**who, a_day=self.price(), bender=self.bender)

    def type(self):
        person = self.chance.choice([self.team.ann, self.team.ben])
        minutes = self.chance.randint(1, 300)
        type_time(**self.given, person=person, day=self.day(), house=self.house(), step="set", minutes=minutes)

    def press(self):
        self.runs += 1
        begins = f"{7 + self.runs % 8:02}:{self.chance.randint(0, 59):02}"
        person = self.chance.choice([self.team.ann, self.team.ben])
        people, day = self.chance.randint(1, 2), self.chance.randint(0, 4)
        a_run(self.house().tasks.get(), person, begins=begins, ends="15:59", day=day, people=people)

    def run_of(self):
        rows = list(runs_of(organisation=self.team.organisation))
        if not rows:
            raise ValidationError("None yet.")
        return self.chance.choice(rows)

    def approve(self):
        run = self.run_of()
        approve(**self.given, runs=[(run.pk, run.latest)])

    def correct(self):
        run, minutes = self.run_of(), self.chance.randint(10, 200)
        correct(**self.given, actual=run, minutes=minutes, people=1, reason="Shorter", seen=run.latest)

    def undo(self):
        take_back(**self.given, actual=self.run_of())

    def put(self):
        put_waiting(**self.given)

    def equipment(self):
        equipment.charge_day(**self.given, equipment=self.thing, house=self.house(), day=self.day())

    def trip(self):
        house = self.house()
        given = {"site": house.site, "day": self.day(), "times": self.chance.randint(1, 3)}
        trips.charge_trips(**self.given, **given, house=house if self.chance.random() < 0.7 else None)

    def take_back(self):
        model, call = self.chance.choice(
            [
                (PaidTime, take_back_time),
                (EquipmentDay, equipment.take_back_day),
                (Trip, trips.take_back_trip),
            ]
        )
        row = model.objects.of(self.team.organisation).net().order_by("pk").first()
        if row is None:
            raise ValidationError("None yet.")
        call(**self.given, row=row, reason="Wrong")


@pytest.mark.parametrize("currency", ["USD", "KWD"])
def test_all_that_came_in_is_charged_to_somebody_or_lies_in_the_yard(organisation, user, currency, capsys):
    organisation.currency = currency
    organisation.save()
    season = Season(len(currency) + ord(currency[0]), Team(organisation, user).rates()).work(OPERATIONS)
    assert [*faults_of(organisation=organisation)] == []
    sides = sides_of(organisation=organisation)
    assert sides.difference == 0
    assert sides.came["time"] and sides.charged["stock"], sides
    assert any(name.endswith("as a whole") for name in (row.name for row in costs_of(organisation=organisation)))
    needed = {"issue", "type", "press", "approve", "reprice", "new_rate", "equipment", "trip", "take_back"}
    assert needed - season.done.keys() == set(), (season.done, season.refused)
    call_command("recount_costs")
    assert "The costs of" in capsys.readouterr().out


def test_what_does_not_add_up_is_told(organisation, user, monkeypatch):
    team = Team(organisation, user).rates()
    type_time(**team.who, person=team.ann, day=DAY, house=team.house, minutes=60, step="set")
    assert Counter(faults_of(organisation=organisation)) == Counter()
    monkeypatch.setattr("farmbuild.costs.law.costs_of", lambda organisation: [])
    monkeypatch.setattr("farmbuild.costs.law.amount_of", lambda *_: Decimal(1))
    told = [*faults_of(organisation=organisation)]
    assert len(told) == 2 and "$29.00" in told[0] and "60 min at 29" in told[1]
    with pytest.raises(CommandError, match="2 faults in the costs"):
        call_command("recount_costs")


def test_a_bill_that_comes_later_is_borne_by_who_has_the_pieces(organisation, user):
    """Of ten rails four are in a house: a bill 20 dearer is 8 more for it, and all still adds up."""
    order = sent_order(organisation, 10, price="13.00")
    receive(order, user, 10)
    house = HouseFactory(site__organisation=organisation)
    own = {"organisation": organisation, "user": user}
    stock.issue_pieces(**own, lot=Lot.objects.get(), quantity=4, house=house, reason="framing")
    [before] = costs_of(organisation=organisation)
    bill(order, user, 10, prices=["15"])
    [after] = costs_of(organisation=organisation)
    assert (before.total, after.total - before.total) == (52, 8)
    assert [*faults_of(organisation=organisation)] == []
    assert sides_of(organisation=organisation).came["later bills"] == 8
    lines = [(line.what, line.quantity, line.amount) for line in statement_of(house=house).parts[0].lines]
    assert lines[-1] == ("Bills that came later", "", 8)


def test_a_bill_that_comes_later_is_borne_by_a_job_that_has_the_pieces(organisation, user):
    """4 of 10 went out for the job as a whole, at 13 each and 8 more later; its cost against quote has all of it."""
    own = {"organisation": organisation, "user": user}
    job = accepted_job(organisation, user)
    order = sent_order(organisation, 10, price="13.00")
    receive(order, user, 10)
    stock.issue_pieces(**own, lot=Lot.objects.get(), quantity=4, reason="", job=job)
    bill(order, user, 10, prices=["15"])
    [row] = [row for row in costs_of(organisation=organisation) if row.total]
    assert (row.name, row.materials) == (f"{job}, as a whole", Decimal(60))
    used = used_of(organisation=organisation, job=job, houses=[])
    assert sum(row.amount for row in used.materials) == Decimal(60)
    assert [*faults_of(organisation=organisation)] == []
