"""A year of twelve farms and three benders through the services, and all of it worked out again from what happened."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from random import Random
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from farmbuild.coop.charges import services as charges
from farmbuild.coop.charges.proposals import proposed_charges
from farmbuild.coop.charges.rates import set_charge_rate, set_free_days
from farmbuild.coop.common.services import decline_wish, give_wish, open_lot, wish_for
from farmbuild.coop.law import faults_of
from farmbuild.coop.models import MemberEntry, SentStatement
from farmbuild.coop.pipe.selectors import owed_of, pipe_of
from farmbuild.coop.pipe.services import NewPipe, NewReturn, record_pipe, record_return, take_pipe_back
from farmbuild.coop.statement.payments import record_payment
from farmbuild.coop.statement.selectors import balances_of, statements_of
from farmbuild.coop.statement.services import send_statement
from farmbuild.coop.statement.taking_back import take_back
from farmbuild.crew.bookings import moving
from farmbuild.crew.bookings import services as bookings
from farmbuild.crew.bookings.member_requests import ProposedBooking, ask, book_proposal
from farmbuild.crew.bookings.proposals import proposal_of
from farmbuild.crew.models import BenderBooking, BenderRequest
from farmbuild.stock.models import Lot
from tests.coop.joint.making import Cooperative
from tests.coop.joint.worked import RAIL
from tests.factories import BenderFactory, LotFactory, MemberSignInFactory, PlaceFactory

pytestmark = pytest.mark.django_db
D = Decimal
CENT = D("0.01")
SEED = 20260301
BEGINS, ENDS = date(2026, 1, 5), date(2026, 12, 20)
#: From a day on, in the order of the days.
A_DAY = [(date(2026, 1, 1), D("12.50")), (date(2026, 6, 7), D("13.75"))]
A_PULL, LATE_DAY, LATE_ONCE = D("0.355"), D("20"), D("15")
FREE = 2
#: One stick of common stock, and one that a member keeps of another's.
COMMON, KEPT = D("13.405"), D("11.335")


def cents(amount: D) -> D:
    return amount.quantize(CENT, ROUND_HALF_UP)


def shared(total: D, weights: list[D]) -> list[D]:
    """To the cent by the largest remainder; ties to the first."""
    coins, whole = int(total / CENT), sum(weights)
    exact = [coins * weight / whole for weight in weights]
    parts = [int(one) for one in exact]
    order = sorted(range(len(weights)), key=lambda at: (-(exact[at] - parts[at]), at))
    for at in order[: coins - sum(parts)]:
        parts[at] += 1
    return [part * CENT for part in parts]


@dataclass
class Told:
    """What happened, as somebody with a notebook wrote it down; nothing in it comes from the services."""

    #: (member, day out, day back, last day promised, pulls), as they came back, month by month.
    returns: list[tuple[int, date, date, date, int]] = field(default_factory=list)
    posted: int = 0
    #: (member, amount) of damage that stands.
    damage: list[tuple[int, D]] = field(default_factory=list)
    #: (rails and pipes by member, rails that came damaged).
    orders: list[tuple[dict[int, tuple[int, int]], int]] = field(default_factory=list)
    paid: list[tuple[int, D]] = field(default_factory=list)
    #: (lender, borrower, pieces, price of one) of pipe that was given for money, or lent and then kept for it.
    sold: list[tuple[int, int, int, D]] = field(default_factory=list)
    #: Pieces by lender and borrower that were lent, less those that came back or were paid for.
    out: dict[tuple[int, int], int] = field(default_factory=lambda: defaultdict(int))
    #: (member, pieces) of common stock that was handed over.
    handed: list[tuple[int, int]] = field(default_factory=list)

    def month_ends(self) -> None:
        self.returns[self.posted :] = sorted(self.returns[self.posted :], key=lambda row: row[2])
        self.posted = len(self.returns)

    def owed(self) -> dict[str, dict[int, D]]:
        """By kind of entry and member."""
        found: dict[str, dict[int, D]] = defaultdict(lambda: defaultdict(D))
        free = defaultdict(lambda: FREE)
        for member, out, back, last, pulls in self.returns:
            at_price: dict[D, int] = defaultdict(int)
            for each in self._days(out, back):
                if free[member]:
                    free[member] -= 1
                else:
                    at_price[[price for since, price in A_DAY if since <= each][-1]] += 1
            found["days"][member] += sum((cents(count * price) for price, count in at_price.items()), D(0))
            found["pulls"][member] += cents(pulls * A_PULL)
            late = max(0, (back - last).days)
            found["late"][member] += late * LATE_DAY + (LATE_ONCE if late else 0)
        for member, amount in self.damage:
            found["damage"][member] += amount
        for member, amount in self.paid:
            found["paid"][member] -= amount
        for lender, borrower, pieces, price in self.sold:
            found["pipe"][borrower] += cents(pieces * price)
            found["pipe"][lender] -= cents(pieces * price)
        for member, pieces in self.handed:
            found["stock"][member] += cents(pieces * COMMON)
        for wanted, damaged in self.orders:
            for member, amount in self._order(wanted, damaged).items():
                found["order"][member] += amount
        return found

    @staticmethod
    def _days(first: date, last: date) -> list[date]:
        return [first + timedelta(days=at) for at in range((last - first).days + 1)]

    @staticmethod
    def _order(wanted: dict[int, tuple[int, int]], damaged: int) -> dict[int, D]:
        """Goods at the price of the whole, tax line by line and delivery by what each has of it."""
        members = [*wanted]
        rails = sum(rail for rail, _ in wanted.values())
        pipes = sum(pipe for _, pipe in wanted.values())
        prices = (
            D("12.75") if rails >= 200 else D("13.40") if rails >= 50 else D("14.60"),
            D("34.00") if pipes >= 24 else D("36.40"),
        )
        got = {member: list(pieces) for member, pieces in wanted.items()}
        with_rail = [member for member in members if wanted[member][0]]
        for at in range(damaged):
            got[with_rail[at % len(with_rail)]][0] -= 1
        owes = {
            member: sum((n * price for n, price in zip(got[member], prices, strict=True)), D(0)) for member in members
        }
        goods = [owes[member] for member in members]
        for at, price in enumerate(prices):
            line = [got[member][at] * price for member in members]
            if any(line):
                for member, part in zip(members, shared(cents(sum(line) * D("0.0625")), line), strict=True):
                    owes[member] += part
        for member, part in zip(members, shared(D(85), goods), strict=True):
            owes[member] += part
        return owes


class Clock:
    def __init__(self, monkeypatch, zone: str) -> None:
        self.zone = ZoneInfo(zone)
        self.at(BEGINS)
        monkeypatch.setattr(timezone, "now", lambda: self.now)

    def at(self, day: date, hour: int = 9) -> None:
        self.now = datetime(day.year, day.month, day.day, hour, tzinfo=self.zone)


class Year:
    """The work of a year; what it does is told to a notebook as well."""

    def __init__(self, monkeypatch) -> None:
        self.coop = Cooperative(members=12, time_zone="America/New_York")
        self.clock = Clock(monkeypatch, "America/New_York")
        self.who, self.members = self.coop.who, self.coop.members
        self.benders = [BenderFactory(organisation=self.coop.organisation, name=f"Bender {n}") for n in range(1, 4)]
        self.chance, self.told = Random(SEED), Told()
        self.key = {member: member.pk for member in self.members}
        kinds = {"pull": A_PULL, "late-day": LATE_DAY, "late": LATE_ONCE}
        for since, each in A_DAY:
            set_charge_rate(**self.who, kind="day", since=since, each=each)
        for kind, each in kinds.items():
            set_charge_rate(**self.who, kind=kind, since=BEGINS, each=each)
        set_free_days(**self.who, since=BEGINS, days=FREE)
        self.users = {member: MemberSignInFactory(member=member).user for member in self.members}
        place = PlaceFactory(organisation=self.coop.organisation)
        lot = LotFactory(material=self.coop.rail, place=place, on_hand=400)
        self.offer = open_lot(**self.who, lot=lot, quantity=300, price=COMMON)

    def lend(self, bender, day: date) -> date:
        """A booking of some days from ``day`` on until the bender is back; the day on which it is."""
        self.clock.at(day)
        member = self.chance.choice(self.members)
        last = day + timedelta(days=self.chance.randint(0, 4))
        booking = bookings.book(**self.who, bender=bender, first=day, last=last, member=member)
        fate = self.chance.random()
        if fate < 0.1:
            bookings.cancel(**self.who, booking=booking)
            return day
        if fate < 0.2:
            last += timedelta(days=1)
            booking = moving.move(**self.who, booking=booking, bender=bender, first=day, last=last)
        bookings.check_out(**self.who, booking=booking, condition="sound")
        back = max(day, last + timedelta(days=self.chance.choice([0, 0, 0, -1, 1, 3])))
        self.clock.at(back, 18)
        pulls = self.chance.randint(0, 90)
        bookings.check_in(**self.who, booking=booking, condition="sound", pulls=pulls)
        self.told.returns.append((member.pk, day, back, last, pulls))
        if self.chance.random() < 0.12:
            self.damage(booking, member)
        return back

    def damage(self, booking, member) -> None:
        amount = D(self.chance.randint(500, 9_000)) * CENT
        row = charges.charge_damage(**self.who, booking=booking, what="roller bent", amount=amount)
        if self.chance.random() < 0.4:
            charges.dispute_for_member(**self.who, damage=row, why="it came so")
            charges.answer_damage(**self.who, damage=row, withdraw=True, answer="seen on photos")
        else:
            self.told.damage.append((member.pk, amount))

    def post(self, day: date) -> None:
        """Once a month; now and then a charge is taken back, and posted again."""
        self.clock.at(day)
        self.told.month_ends()
        organisation = self.coop.organisation
        seen = [one.token for one in proposed_charges(organisation=organisation)]
        if seen:
            charges.post_charges(**self.who, seen=seen)
            entry = MemberEntry.objects.of(organisation).net().filter(kind="pulls").last()
            take_back(**self.who, entry=entry, reason="counted again")
            charges.post_charges(**self.who, seen=[one.token for one in proposed_charges(organisation=organisation)])

    def order_together(self, day: date, damaged: int) -> None:
        self.clock.at(day)
        joint, wanted = self.coop.joint(), {}
        for at, member in enumerate(self.members):
            rails, pipes = self.chance.randint(18, 40), self.chance.randint(0, 9)
            wanted[member.pk] = (rails, pipes)
            self.coop.put_in(joint, at, rails, pipes)
        [order] = self.coop.close(joint)
        came = []
        for line in order.lines.all():
            bad = damaged if line.material == self.coop.rail else 0
            came.append((line.quantity, bad))
        self.coop.receive(order, *came, short=bool(damaged))
        self.coop.charge(joint)
        self.told.orders.append((wanted, damaged))

    def lend_pipe(self, day: date) -> None:
        """One lends; some comes back, some is kept for money. Another gives, for money or as a present."""
        self.clock.at(day)
        lender, borrower, third = self.chance.sample(self.members, 3)
        told = {"material": self.coop.rail, "length": RAIL[1], "day": day, "note": "both were here"}
        pieces = self.chance.randint(6, 20)
        loan = record_pipe(**self.who, new=NewPipe("lent", lender, borrower, quantity=pieces, **told))
        back, kept = self.chance.randint(1, 3), self.chance.randint(1, 3)
        record_return(**self.who, loan=loan, new=NewReturn(back, day, damaged=1))
        record_return(**self.who, loan=loan, new=NewReturn(kept, day, price=KEPT, note="by telephone"))
        self.told.out[lender.pk, borrower.pk] += pieces - back - kept
        self.told.sold.append((lender.pk, borrower.pk, kept, KEPT))
        price = self.chance.choice([D(0), D("9.995")])
        new = NewPipe("given", borrower, third, quantity=pieces, price=price, **told)
        wrong = record_pipe(**self.who, new=new)
        take_pipe_back(**self.who, loan=wrong, reason="told twice")
        record_pipe(**self.who, new=new)
        self.told.sold.append((borrower.pk, third.pk, pieces, price))

    def hand_over(self, day: date) -> None:
        """Three wish for common stock: one is declined, the others get it."""
        self.clock.at(day)
        for at, member in enumerate(self.chance.sample(self.members, 3)):
            pieces = self.chance.randint(1, 9)
            wish = wish_for(member=member, user=self.users[member], offer=self.offer, quantity=pieces)
            if at:
                give_wish(**self.who, wish=wish)
                self.told.handed.append((member.pk, pieces))
            else:
                decline_wish(**self.who, wish=wish, reason="needed here")

    def pay(self, day: date) -> None:
        self.clock.at(day)
        for pk, owes in balances_of(organisation=self.coop.organisation, day=day).items():
            if owes > 0 and self.chance.random() < 0.6:
                amount = max(CENT, cents(owes * self.chance.choice([D(1), D("0.5")])))
                member = next(one for one in self.members if one.pk == pk)
                record_payment(**self.who, member=member, day=day, amount=amount, how="transfer")
                self.told.paid.append((pk, amount))

    def run(self) -> Year:
        free = {bender: BEGINS + timedelta(days=at) for at, bender in enumerate(self.benders)}
        month = 1
        while (day := min(free.values())) < ENDS:
            bender = min(self.benders, key=lambda one: (free[one], one.pk))
            if day.month > month:
                month = day.month
                self.post(day)
                if month in (3, 9):
                    self.order_together(day, damaged=3 if month == 3 else 0)
                if month in (4, 7, 10):
                    self.pay(day)
                if month in (2, 6, 11):
                    self.lend_pipe(day)
                if month in (5, 8, 12):
                    self.hand_over(day)
                if month == 7:
                    send_statement(**self.who, member=self.members[0], last=day - timedelta(days=1))
            back = self.lend(bender, day)
            free[bender] = back + timedelta(days=self.chance.randint(4, 12))
        self.clock.at(date(2026, 12, 31), 20)
        self.post(date(2026, 12, 31))
        return self


@pytest.fixture
def year(monkeypatch):
    return Year(monkeypatch).run()


def test_a_year_of_twelve_farms_and_three_benders_adds_up(year):
    organisation, told = year.coop.organisation, year.told
    stands: dict[str, dict[int, D]] = defaultdict(lambda: defaultdict(D))
    for kind, member, amount in MemberEntry.objects.of(organisation).values_list("kind", "member", "amount"):
        stands[kind][member] += amount
    again = told.owed()
    assert len(told.returns) > 60 and len(told.orders) == 2 and told.damage and told.paid
    assert len(told.sold) == 6 and len(told.handed) == 6
    assert any(back > last for _, _, back, last, _ in told.returns), "somebody is late"
    assert any(out < A_DAY[1][0] <= back for _, out, back, *_ in told.returns), "a booking is out over the new price"
    for kind in sorted(stands.keys() | again.keys()):
        for member in year.members:
            assert stands[kind][member.pk] == again[kind][member.pk], (kind, member)
    assert sum(again["pipe"].values()) == 0 != again["pipe"][told.sold[0][1]]
    lent = {(row.lender.pk, row.borrower.pk): row.there for row in owed_of(pipe_of(organisation=organisation))}
    assert lent == {pair: pieces for pair, pieces in told.out.items() if pieces}
    assert Lot.objects.get(pk=year.offer.lot_id).on_hand == 400 - sum(pieces for _, pieces in told.handed)
    assert [*faults_of(organisation=organisation)] == []
    whole = sum((sum(by.values(), D(0)) for by in again.values()), D(0))
    ends = statements_of(organisation=organisation, first=date(2026, 1, 1), last=date(2026, 12, 31))
    assert len(ends) == 12 and sum(one.closing for one in ends) == whole
    sent = send_statement(**year.who, member=year.members[0], last=date(2026, 12, 31))
    before = SentStatement.objects.get(number=1)
    assert sent.opening == before.closing
    assert sent.closing == sum((by[year.members[0].pk] for by in again.values()), D(0))


#: Rounds of a year in which benders are shared out, each for a week that begins so many days later.
ROUNDS, APART, WEEK, DAYS = 12, 28, 7, 2


def test_after_a_year_of_proposals_days_a_share_are_even(monkeypatch):
    """Everybody asks every time but one, who asks in the last round alone; one of two who ask twice has two shares.

    Counted here from bookings. Those who asked all year differ by no more than 10 %, or than they would if each week
    those with the fewest days a share were taken first: requests are met whole or not at all.
    """
    coop = Cooperative(members=12, time_zone="America/New_York")
    clock, chance = Clock(monkeypatch, "America/New_York"), Random(SEED)
    members, late = coop.members, coop.members[-1]
    members[0].share = 2
    members[0].save()
    benders = [BenderFactory(organisation=coop.organisation, name=f"Bender {n}") for n in range(1, 4)]
    simple: dict[int, int] = defaultdict(int)
    for at in range(ROUNDS):
        day = BEGINS + timedelta(days=at * APART)
        clock.at(day)
        BenderRequest.objects.filter(state="asked").update(state="withdrawn")
        wanted = [*members[:-1], *members[:2], *([late] if at == ROUNDS - 1 else [])]
        chance.shuffle(wanted)
        for place in range(len(benders)):
            waiting = wanted[place :: len(benders)]
            for _ in range(WEEK // DAYS):
                waiting.sort(key=lambda member: (D(simple[member.pk]) / member.share, member.pk))
                simple[waiting.pop(0).pk] += DAYS
        for n, member in enumerate(wanted):
            days = {"days": DAYS, "earliest": day, "need_by": day + timedelta(days=WEEK - 1)}
            ask(coop.organisation, coop.user, {"bender": benders[n % 3], "member": member} | days)
        found = proposal_of(organisation=coop.organisation)
        wishes = [ProposedBooking(row.request.pk, row.bender.pk, row.first, row.last) for row in found.given]
        book_proposal(**coop.who, wishes=wishes)
        for row in BenderBooking.objects.filter(state="booked"):
            out, back = (datetime(one.year, one.month, one.day, 12, tzinfo=clock.zone) for one in (row.first, row.last))
            BenderBooking.objects.filter(pk=row.pk).update(
                state="back", out_at=out, out_condition="sound", back_at=back, back_condition="sound"
            )
    had: dict[int, int] = defaultdict(int)
    for member, first, last in BenderBooking.objects.values_list("member", "first", "last"):
        had[member] += (last - first).days + 1
    share, bound = ({one.pk: D(days[one.pk]) / one.share for one in members} for days in (had, simple))
    all_year, bound = ([days[one.pk] for one in members if one != late] for days in (share, bound))
    assert sum(had.values()) == ROUNDS * len(benders) * (WEEK // DAYS) * DAYS, "a bender lies about"
    assert max(all_year) - min(all_year) <= max(max(bound) - min(bound), min(all_year) / 10), (all_year, bound)
    assert 0 < share[late.pk] < min(all_year), "who asks once is not given what others had all year"
