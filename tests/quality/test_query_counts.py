"""Every list page asks the database as often at 60 rows, or 10,000 in the long run, as at 10."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from farmbuild.access.invitations import invite
from farmbuild.api.models import Attempt, Token, Webhook
from farmbuild.buying.models import Invoice, PurchaseOrder, PurchaseOrderLine
from farmbuild.catalogue.models import Material, Offer, PriceBreak, Supplier
from farmbuild.coop.models import (
    ChargeRate,
    CommonOffer,
    CommonWish,
    JointMember,
    JointNeed,
    JointOrder,
    MemberEntry,
    PipeLoan,
    PipeReturn,
    SentStatement,
)
from farmbuild.costs.models import Equipment, EquipmentDay, PaidTime, PayRate, Trip
from farmbuild.crew.models import (
    Actual,
    BenderBooking,
    BenderRequest,
    Crew,
    DayOff,
    HourCorrection,
    Member,
    OtherWork,
    Person,
    ProblemPhoto,
    ProblemSettled,
    Schedule,
    Skill,
    Task,
    WindForecast,
    WorkHours,
    WorkTemplate,
    WorkWeek,
)
from farmbuild.history.models import Entry
from farmbuild.history.recording import recorded
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.quotes.models import Bill, Customer, Job, Option, Quote
from farmbuild.sites.models import House, Site
from farmbuild.stock.models import (
    CountEntry,
    CountFind,
    CountLine,
    CountPlace,
    Lot,
    Movement,
    Place,
    Reservation,
    StockCount,
)
from tests.buying.sent_order import sent_order
from tests.factories import (
    BenderBookingFactory,
    BenderFactory,
    BenderRequestFactory,
    CrewFactory,
    HouseFactory,
    JointOrderFactory,
    LotFactory,
    MaterialFactory,
    MemberFactory,
    MembershipFactory,
    OfferFactory,
    PersonFactory,
    PlaceFactory,
    RecipeFactory,
    SiteFactory,
    SupplierFactory,
)
from tests.size import sized

pytestmark = pytest.mark.django_db
FEW, MANY = 10, sized(60, 10_000)


#: What a lot is worth begins at nothing.
BOOKS = {"value": 0, "basis_value": 0, "basis_pieces": 0}


def copies(row, count: int, **changes):
    """Unsaved copies of a row; a change may be a function of the copy's number."""
    values = {
        field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields if not field.primary_key
    }
    return [
        type(row)(**values | {name: value(n) if callable(value) else value for name, value in changes.items()})
        for n in range(count)
    ]


def fill(model, rows) -> None:
    model.objects.bulk_create(rows, batch_size=500)


def more_houses(organisation, start, count):
    house = House.objects.of(organisation).first() or HouseFactory(site__organisation=organisation)
    fill(House, copies(house, count, slug=lambda n: f"many-{start}-{n}", name=lambda n: f"Many {start} {n}"))


def more_sites(organisation, start, count):
    site = Site.objects.of(organisation).first() or SiteFactory(organisation=organisation)
    fill(Site, copies(site, count, slug=lambda n: f"many-{start}-{n}"))


def more_many_sites(organisation, start, count):
    more_sites(organisation, start, count + 13)


def more_recipes(organisation, start, count):
    recipe = Recipe.objects.of(organisation).first() or RecipeFactory(organisation=organisation)
    fill(Recipe, copies(recipe, count, slug=lambda n: f"many-{start}-{n}"))


def more_materials(organisation, start, count):
    material = Material.objects.of(organisation).first() or MaterialFactory(organisation=organisation)
    fill(Material, copies(material, count, code=lambda n: f"many-{start}-{n}"))


def more_suppliers(organisation, start, count):
    supplier = Supplier.objects.of(organisation).first() or SupplierFactory(organisation=organisation)
    fill(Supplier, copies(supplier, count, code=lambda n: f"many-{start}-{n}"))


def more_offers(organisation, start, count):
    supplier = Supplier.objects.of(organisation).filter(code="one").first()
    supplier = supplier or SupplierFactory(organisation=organisation, code="one")
    offer = Offer.objects.of(organisation).first() or OfferFactory(supplier=supplier)
    first = Offer.objects.order_by("-pk").first().pk
    fill(Offer, copies(offer, count))
    fresh = Offer.objects.filter(pk__gt=first)
    fill(PriceBreak, [PriceBreak(offer=row, from_quantity=1, unit_price=Decimal(2)) for row in fresh])


def more_places(organisation, start, count):
    place = Place.objects.of(organisation).first() or PlaceFactory(organisation=organisation)
    fill(Place, copies(place, count, name=lambda n: f"Many {start} {n}"))


def more_lots(organisation, start, count):
    lot = Lot.objects.of(organisation).first() or LotFactory(material__organisation=organisation)
    fill(Lot, copies(lot, count, reference=lambda n: f"M-{start}-{n}", **BOOKS))


def more_movements(organisation, start, count):
    lot = Lot.objects.of(organisation).first() or LotFactory(material__organisation=organisation)
    fill(Movement, [Movement(lot=lot, kind=Movement.Kind.RECEIVE, quantity=1) for _ in range(count)])


def more_loans(organisation, start, count):
    lot = Lot.objects.of(organisation).first() or LotFactory(material__organisation=organisation)
    loan = {"lot": lot, "kind": Movement.Kind.LEND, "quantity": -1, "borrower": "Many"}
    fill(Movement, [Movement(**loan) for _ in range(count)])


def more_plans(organisation, start, count):
    site = Site.objects.of(organisation).first() or SiteFactory(organisation=organisation)
    fill(
        Plan,
        [
            Plan(
                organisation=organisation,
                number=start + n + 1,
                name="Many",
                state=Plan.State.READY,
                as_of=date(2027, 2, 1),
                delivery_site=site,
                inputs={},
                inputs_digest=f"{start + n}",
                result={},
                result_digest="0",
            )
            for n in range(count)
        ],
    )


def more_invoices(organisation, start, count):
    """Of one order; their totals do not add up, so that they stand on either list."""
    order = PurchaseOrder.objects.of(organisation).exclude(sent_on=None).first() or sent_order(organisation, 5)
    money = Decimal(10)
    fill(
        Invoice,
        [
            Invoice(
                organisation=organisation,
                order=order,
                supplier=order.supplier,
                position=start + n + 1,
                number=f"R-{start + n + 1}",
                invoiced_on=date(2027, 4, 20),
                currency=order.currency,
                goods=money,
                delivery=0,
                tax=0,
                total=money + 1,
                tax_expected=0,
                total_off=True,
                token=f"{start + n + 1}",
            )
            for n in range(count)
        ],
    )


def more_orders(organisation, start, count):
    more_plans(organisation, start, count)
    supplier = Supplier.objects.of(organisation).first() or SupplierFactory(organisation=organisation)
    material = Material.objects.of(organisation).first() or MaterialFactory(organisation=organisation)
    plans = Plan.objects.of(organisation).filter(number__gt=start)
    day, money = date(2027, 3, 1), Decimal(10)
    fill(
        PurchaseOrder,
        [
            PurchaseOrder(
                organisation=organisation,
                number=f"{plan.number}-1",
                plan=plan,
                supplier=supplier,
                delivery_site=plan.delivery_site,
                order_by=day,
                need_by=day,
                currency="USD",
                goods=money,
                delivery=0,
                tax=0,
                total=money,
            )
            for plan in plans
        ],
    )
    fill(
        PurchaseOrderLine,
        [
            PurchaseOrderLine(
                order=order,
                position=1,
                material=material,
                description="Rail",
                needed=1,
                pack=1,
                quantity=1,
                unit_price=money,
                line_total=money,
                tax=0,
                need_by=day,
            )
            for order in PurchaseOrder.objects.filter(plan__in=plans)
        ],
    )


def more_counts(organisation, start, count):
    """Counts in the list, and one open count with that many places, lots, differences and entries."""
    fill(
        StockCount,
        [
            StockCount(organisation=organisation, number=start + n + 2, state="dropped", ended_at=timezone.now())
            for n in range(count)
        ],
    )
    one = StockCount.objects.of(organisation).filter(number=1).first()
    if one is None:
        one = StockCount.objects.create(organisation=organisation, number=1)
    more_places(organisation, start, count)
    places = Place.objects.of(organisation).filter(name__startswith=f"Many {start} ")
    fill(CountPlace, [CountPlace(count=one, place=place) for place in places])
    more_lots(organisation, start, count)
    lots = Lot.objects.of(organisation).filter(reference__startswith=f"M-{start}-")
    first = one.places.order_by("pk").first().place
    counted = {"counted": 1, "expected": 2, "upto": 0, "counted_at": timezone.now(), "times": 1}
    fill(CountLine, [CountLine(count=one, lot=lot, place=first, **counted) for lot in lots])
    line = one.lines.order_by("pk").first()
    entry = {name: value for name, value in counted.items() if name != "times"}
    fill(CountEntry, [CountEntry(line=line, **entry | {"counted": n}) for n in range(count)])
    material = Material.objects.of(organisation).first()
    find = {"count": one, "place": first, "material": material, "quantity": 1, "length": 1000}
    fill(CountFind, [CountFind(**find) for _ in range(count)])


def more_labels(organisation, start, count):
    place = Place.objects.of(organisation).first() or PlaceFactory(organisation=organisation)
    lot = Lot.objects.of(organisation).first() or LotFactory(material__organisation=organisation, place=place)
    fill(Lot, copies(lot, count, reference=lambda n: f"B-{start}-{n}", **BOOKS))


def more_holds(organisation, start, count, lots=100):
    """Holds of one house over ``lots``, more than it needs even where there are few."""
    house = House.objects.of(organisation).first() or HouseFactory(site__organisation=organisation)
    if not start:
        more_plans(organisation, 0, 1)
        lot = LotFactory(material=house.recipe.tube, on_hand=3 * (FEW + MANY))
        fill(Lot, copies(lot, lots - 1, reference=lambda n: f"H-{n}", **BOOKS))
    keys = list(Lot.objects.of(organisation).values_list("pk", flat=True))
    plan = Plan.objects.of(organisation).first()
    Plan.objects.filter(accepted_at=None).update(accepted_at=timezone.now())
    PlanHouse.objects.get_or_create(plan=plan, house=house, defaults={"accepted": True})
    held = {"organisation": organisation, "plan": plan, "house": house, "need_by": house.need_date}
    fill(Reservation, [Reservation(**held, lot_id=keys[n % lots], purpose="hoops", quantity=3) for n in range(count)])


def more_holds_of_a_lot(organisation, start, count):
    more_holds(organisation, start, count, lots=1)


def more_people(organisation, start, count):
    """In one crew, each with a skill, a day off of their own and one of everybody."""
    person = Person.objects.of(organisation).first() or PersonFactory(crew__organisation=organisation, slug="one")
    Crew.objects.of(organisation).update(slug="one")
    fill(Person, copies(person, count, slug=lambda n: f"many-{start}-{n}"))
    people = Person.objects.of(organisation).filter(slug__startswith=f"many-{start}-")
    fill(Skill, [Skill(organisation=organisation, name=f"Many {start} {n}") for n in range(count)])
    skill = Skill.objects.of(organisation).first()
    fill(Person.skills.through, [Person.skills.through(person=row, skill=skill) for row in people])
    for whom in (person, None):
        days = {"organisation": organisation, "person": whom, "first": date(2087, 1, 1), "last": date(2087, 1, 1)}
        fill(DayOff, [DayOff(**days) for _ in range(count)])


def more_crews(organisation, start, count):
    crew = Crew.objects.of(organisation).first() or CrewFactory(organisation=organisation)
    fill(Crew, copies(crew, count, slug=lambda n: f"many-{start}-{n}"))


def more_weeks(organisation, start, count):
    fill(WorkWeek, [WorkWeek(organisation=organisation, name=f"Many {start} {n}") for n in range(count)])
    weeks = WorkWeek.objects.of(organisation).filter(name__startswith=f"Many {start} ")
    fill(WorkHours, [WorkHours(week=week, day=0, starts=time(8), ends=time(12)) for week in weeks])


def more_templates(organisation, start, count):
    rows = [
        WorkTemplate(organisation=organisation, name=f"Many {start} {n}", slug=f"many-{start}-{n}")
        for n in range(count)
    ]
    fill(WorkTemplate, rows)


def more_records(organisation, start, count):
    """Recorded work of one task."""
    house = House.objects.of(organisation).first() or HouseFactory(site__organisation=organisation)
    task, _ = Task.objects.get_or_create(organisation=organisation, house=house, kind="bend")
    now = timezone.now()
    done = {"task": task, "started_at": now, "stopped_at": now + timedelta(minutes=30), "done": 10}
    fill(Actual, [Actual(organisation=organisation, key=uuid4(), **done) for _ in range(count)])


def more_problems(organisation, start, count):
    """Recorded work with a problem and a photo, half of the problems put right."""
    house = House.objects.of(organisation).first() or HouseFactory(site__organisation=organisation)
    task, _ = Task.objects.get_or_create(organisation=organisation, house=house, kind="bend")
    kept = {"organisation": organisation, "task": task, "done": start + 1, "problem": "bent the wrong way"}
    fill(Actual, [Actual(key=uuid4(), **kept) for _ in range(count)])
    rows = list(Actual.objects.filter(task=task, done=start + 1))
    picture = {"position": 1, "data": b"x", "thumbnail": b"x", "sha256": "0" * 64, "width": 4, "height": 3}
    fill(ProblemPhoto, [ProblemPhoto(organisation=organisation, actual=row, **picture) for row in rows])
    half = rows[: count // 2]
    fill(ProblemSettled, [ProblemSettled(organisation=organisation, actual=row, how="bent again") for row in half])


def more_tasks(organisation, start, count):
    """A task of each of ``count`` houses, all of one crew in one week; and as many schedules."""
    house = House.objects.of(organisation).first() or HouseFactory(site__organisation=organisation)
    crew = Crew.objects.of(organisation).first() or PersonFactory(crew__organisation=organisation, slug="one").crew
    fill(House, copies(house, count, slug=lambda n: f"many-{start}-{n}"))
    starts = datetime(2087, 1, 6, 9, tzinfo=UTC)
    when = {"crew": crew, "starts_at": starts, "ends_at": starts + timedelta(hours=1)}
    houses = House.objects.of(organisation).filter(slug__startswith=f"many-{start}-")
    fill(Task, [Task(organisation=organisation, house=row, kind="posts", **when) for row in houses])
    rows = [Schedule(organisation=organisation, number=start + n, starts_at=starts, inputs={}) for n in range(count)]
    fill(Schedule, rows)


def more_bookings(organisation, start, count):
    """Each of a bender and a member of its own, to come, over, and one that is out late and delays another."""
    booking = BenderBooking.objects.of(organisation).order_by("pk").first()
    booking = booking or BenderBookingFactory(bender__organisation=organisation, first=date(2087, 1, 5))
    fill(Member, copies(booking.member, count, slug=lambda n: f"many-{start}-{n}", name=lambda n: f"Many {start} {n}"))
    fill(Bender, copies(booking.bender, count, slug=lambda n: f"many-{start}-{n}", name=lambda n: f"Many {start} {n}"))
    benders = list(Bender.objects.of(organisation).filter(slug__startswith=f"many-{start}-"))
    for first, state in ((date(2087, 1, 5), "booked"), (date(2020, 1, 5), "back")):
        last = first + timedelta(days=2)
        fill(
            BenderBooking,
            copies(booking, count, bender_id=lambda n: benders[n].pk, first=first, last=last, state=state),
        )


def more_requests(organisation, start, count):
    """More than one proposal takes, with nothing to choose among, so that it is the reading that is counted."""
    asked = BenderRequest.objects.of(organisation).first()
    asked = asked or BenderRequestFactory(member__organisation=organisation)
    fill(BenderRequest, copies(asked, count))


def more_wind(organisation, start, count):
    """Film planned and a forecast on one coming day, each at a site of its own."""
    more_sites(organisation, start, count)
    house = House.objects.of(organisation).first() or HouseFactory(site__organisation=organisation)
    starts = timezone.now() + timedelta(days=1)
    sites = Site.objects.of(organisation).filter(slug__startswith=f"many-{start}-")
    rows = [copies(house, 1, site_id=site.pk, slug=f"wind-{site.slug}")[0] for site in sites]
    fill(House, rows)
    houses = House.objects.of(organisation).filter(slug__startswith=f"wind-many-{start}-")
    crew = Crew.objects.of(organisation).first() or CrewFactory(organisation=organisation)
    when = {"crew": crew, "starts_at": starts, "ends_at": starts + timedelta(hours=1)}
    fill(Task, [Task(organisation=organisation, house=row, kind="film", **when) for row in houses])
    blows = {"day": starts.date(), "wind": 9, "unit": "mph", "source": "Invented radio", "entered_at": timezone.now()}
    fill(WindForecast, [WindForecast(organisation=organisation, site=site, **blows) for site in sites])


def more_hours(organisation, start, count):
    """In crews of their own: runs of one week, some past the day, each corrected; starts forgotten; other work."""
    more_crews(organisation, start, count)
    crews = list(Crew.objects.of(organisation).order_by("-pk")[:count])
    house = House.objects.of(organisation).first() or HouseFactory(site__organisation=organisation)
    task, _ = Task.objects.get_or_create(organisation=organisation, house=house, kind="posts", defaults={"count": 9})
    begun = datetime(2025, 1, 6, 10, tzinfo=UTC)
    given = {"organisation": organisation, "task": task, "day": begun.date(), "started_at": begun}
    ended = given | {"stopped_at": begun + timedelta(hours=1)}
    fill(Actual, [Actual(key=uuid4(), crew=crew, **given) for crew in crews])
    fill(
        Actual, [Actual(key=uuid4(), crew=crew, late=late, done=1, **ended) for crew in crews for late in (True, False)]
    )
    right = {"organisation": organisation, "minutes": 50, "people": 1, "reason": "Many"}
    runs = Actual.objects.filter(crew__in=crews, late=False, stopped_at__isnull=False)
    fill(HourCorrection, [HourCorrection(actual=run, **right) for run in runs])
    work = {"organisation": organisation, "house": house, "what": "Many", "day": begun.date(), "minutes": 5}
    fill(OtherWork, [OtherWork(crew=crew, **work) for crew in crews])


def more_entries(organisation, start, count):
    house = House.objects.of(organisation).first() or HouseFactory(site__organisation=organisation)
    if not Entry.objects.filter(organisation=organisation).exists():
        with recorded(user=organisation.memberships.first().user, organisation=organisation):
            House.objects.filter(pk=house.pk).update(name="Renamed")
    entry = Entry.objects.filter(organisation=organisation).first()
    fill(Entry, copies(entry, count, act=lambda n: uuid4()))


def more_members(organisation, start, count):
    for number in range(start, start + count):
        MembershipFactory(organisation=organisation, user__username=f"member-{number}", role="crew")
        invite(organisation=organisation, user=None, name=f"Invited {number}", role="crew")


def more_tokens(organisation, start, count):
    user = organisation.memberships.order_by("pk").first().user
    token = Token(organisation=organisation, user=user, scopes=["read"], ends_at=timezone.now() + timedelta(days=9))
    fill(Token, copies(token, count, name=lambda n: f"Program {start + n}", digest=lambda n: f"many-{start}-{n}"))


def more_webhooks(organisation, start, count):
    """Each with a token of its own and three answers."""
    more_tokens(organisation, start, count)
    tokens = list(Token.objects.of(organisation).filter(digest__startswith=f"many-{start}-"))
    hook = Webhook(organisation=organisation, state="ready")
    given = {"url": lambda n: f"https://many-{start}-{n}.example/", "ref": lambda n: f"many-{start}-{n}"}
    fill(Webhook, copies(hook, count, token_id=lambda n: tokens[n].pk, **given))
    hooks = Webhook.objects.of(organisation).filter(ref__startswith=f"many-{start}-")
    fill(Attempt, [Attempt(webhook=row, words="Taken (204).", status=204) for row in hooks for _ in range(3)])


def more_jobs(organisation, start, count):
    """Each of a customer of its own, with a quote of two options."""
    customer = Customer(organisation=organisation)
    fill(Customer, copies(customer, count, slug=lambda n: f"many-{start}-{n}", name=lambda n: f"Many {start} {n}"))
    customers = list(Customer.objects.of(organisation).filter(slug__startswith=f"many-{start}-"))
    job = Job(organisation=organisation, name="Many")
    fill(Job, copies(job, count, number=lambda n: start + n + 1, customer_id=lambda n: customers[n].pk))
    jobs = list(Job.objects.of(organisation).filter(number__gt=start).order_by("number"))
    quote = Quote(organisation=organisation, currency=organisation.currency)
    fill(Quote, copies(quote, count, number=lambda n: start + n + 1, job_id=lambda n: jobs[n].pk))
    quotes = list(Quote.objects.of(organisation).filter(number__gt=start).order_by("number"))
    option = Option(organisation=organisation)
    for at in (1, 2):
        fill(Option, copies(option, count, quote_id=lambda n: quotes[n].pk, position=at, name=f"Option {at}"))


def more_paid(organisation, start, count):
    """As many houses, each with a row of time, a day of a bender and a trip."""
    more_houses(organisation, start, count)
    person = Person.objects.of(organisation).first() or PersonFactory(organisation=organisation)
    bender = Bender.objects.of(organisation).first() or BenderFactory(organisation=organisation)
    thing, _ = Equipment.objects.get_or_create(organisation=organisation, bender=bender)
    posted = {"organisation": organisation, "day": date(2025, 1, 6), "rate": 20, "amount": 20}
    houses = House.objects.of(organisation).order_by("-pk")[:count]
    fill(PaidTime, [PaidTime(**posted, house=one, person=person, step="set", minutes=60) for one in houses])
    fill(EquipmentDay, [EquipmentDay(**posted, house=one, equipment=thing) for one in houses])
    fill(Trip, [Trip(**posted, house=one, site=one.site, times=1) for one in houses.select_related("site")])
    since = date(2000, 1, 1)
    more = {"organisation": organisation, "person": person, "an_hour": 20}
    fill(PayRate, [PayRate(**more, since=since + timedelta(days=start + n)) for n in range(count)])


def more_bills(organisation, start, count):
    """All of one job."""
    customer = Customer.objects.get_or_create(organisation=organisation, slug="billed", defaults={"name": "Billed"})[0]
    named = {"organisation": organisation, "number": 9_999, "customer": customer}
    job = Job.objects.filter(**named).first() or Job.objects.create(**named, name="Billed")
    day, nothing = date(2027, 5, 3), Decimal(0)
    bill = Bill(
        organisation=organisation,
        job=job,
        what="Stage",
        currency=organisation.currency,
        day=day,
        due_on=day,
        billed=nothing,
        kept=nothing,
        tax=nothing,
        due=nothing,
        shown={},
        pdf=b"",
        workbook=b"",
        sha256="0" * 64,
    )
    fill(Bill, copies(bill, count, number=lambda n: start + n + 1))


def more_accounts(organisation, start, count):
    """As many members with an entry each, and entries, prices and statements of one of them."""
    member = Member.objects.filter(organisation=organisation, slug="one").first()
    member = member or MemberFactory(organisation=organisation, slug="one")
    fill(Member, copies(member, count, slug=lambda n: f"many-{start}-{n}", name=lambda n: f"Many {start} {n}"))
    members = Member.objects.of(organisation).filter(slug__startswith=f"many-{start}-")
    posted = {"organisation": organisation, "day": date(2025, 1, 6), "kind": "days", "what": "West", "amount": 20}
    fill(MemberEntry, [MemberEntry(**posted, member=one) for one in [*members, *[member] * count]])
    since = date(2000, 1, 1)
    price = {"organisation": organisation, "kind": "day", "each": 20}
    fill(ChargeRate, [ChargeRate(**price, since=since + timedelta(days=start + n)) for n in range(count)])
    sent = SentStatement(
        organisation=organisation,
        member=member,
        first=since,
        currency=organisation.currency,
        opening=0,
        closing=0,
        shown={},
        pdf=b"",
        workbook=b"",
        sha256="0" * 64,
        workbook_sha256="0" * 64,
    )
    numbered = {"number": lambda n: start + n + 1, "last": lambda n: since + timedelta(days=start + n)}
    fill(SentStatement, copies(sent, count, **numbered))


def more_joints(organisation, start, count):
    joint = JointOrder.objects.of(organisation).first() or JointOrderFactory(organisation=organisation, number=1)
    fill(JointOrder, copies(joint, count, number=lambda n: start + n + 2))


def more_needs(organisation, start, count):
    joint = JointOrder.objects.of(organisation).first() or JointOrderFactory(organisation=organisation, number=1)
    member, material = MemberFactory(organisation=organisation), MaterialFactory(organisation=organisation)
    need = JointNeed(joint=joint, member=member, material=material, quantity=5)
    JointMember.objects.create(joint=joint, member=member, position=start + 1)
    fill(JointNeed, copies(need, count, length=lambda n: Decimal(1000 + n)))


def more_pipe(organisation, start, count):
    one, other = (MemberFactory(organisation=organisation) for _ in range(2))
    day = date(2026, 5, 1)
    given = {"organisation": organisation, "material": MaterialFactory(organisation=organisation), "day": day}
    loan = PipeLoan(kind="lent", lender=one, borrower=other, length=Decimal(3000), quantity=5, **given)
    loan.agreed_at = timezone.now()
    fill(PipeLoan, copies(loan, count))
    fill(PipeLoan, copies(loan, count, kind=lambda n: "given", price=lambda n: Decimal(7)))
    fill(
        PipeReturn,
        [
            PipeReturn(organisation=organisation, loan=row, quantity=1, day=day, agreed_at=timezone.now())
            for row in PipeLoan.objects.of(organisation).filter(kind="lent", returns=None)
        ],
    )


def more_common(organisation, start, count):
    """As many lots open to members, half of them ended, and of each a request that waits and one that was answered."""
    member = Member.objects.of(organisation).order_by("pk").first() or MemberFactory(organisation=organisation)
    lot = LotFactory(material=MaterialFactory(organisation=organisation), place=PlaceFactory(organisation=organisation))
    fill(Lot, copies(lot, count, reference=lambda n: f"open-{start}-{n}", **BOOKS))
    lots = Lot.objects.of(organisation).filter(reference__startswith=f"open-{start}-")
    offer = {"organisation": organisation, "quantity": 20, "price": 3}
    fill(CommonOffer, [CommonOffer(**offer, lot=one, wished=1) for one in lots])
    fill(CommonOffer, [CommonOffer(**offer, lot=one, ended_at=timezone.now()) for one in lots])
    opened = CommonOffer.objects.of(organisation).filter(lot__in=lots, ended_at=None)
    wish = {"organisation": organisation, "member": member, "quantity": 1, "price": 3}
    fill(CommonWish, [CommonWish(**wish, offer=one) for one in opened])
    answered = wish | {"state": "withdrawn", "answered_at": timezone.now()}
    fill(CommonWish, [CommonWish(**answered, offer=one) for one in opened])


LISTS = [
    ("/cooperative/charges/", more_accounts),
    ("/cooperative/pipe/", more_pipe),
    ("/cooperative/charges/prices/", more_accounts),
    ("/cooperative/accounts/", more_accounts),
    ("/cooperative/accounts/one/", more_accounts),
    ("/cooperative/common-stock/", more_common),
    ("/cooperative/common-stock/?ended=1", more_common),
    ("/cooperative/common-stock/wishes/", more_common),
    ("/cooperative/common-stock/wishes/?answered=1", more_common),
    ("/customers/", more_jobs),
    ("/jobs/", more_jobs),
    ("/quotes/", more_jobs),
    ("/bills/", more_bills),
    ("/joint-orders/", more_joints),
    ("/joint-orders/1/", more_needs),
    ("/changes/", more_entries),
    ("/changes/?kind=house", more_entries),
    ("/people/", more_members),
    ("/people/log/", more_members),
    ("/programs/", more_tokens),
    ("/programs/webhooks/", more_webhooks),
    ("/houses/", more_houses),
    ("/sites/", more_sites),
    ("/hoops/", more_recipes),
    ("/materials/", more_materials),
    ("/suppliers/", more_suppliers),
    ("/suppliers/one/offers/", more_offers),
    ("/stock/", more_lots),
    ("/stock/places/", more_places),
    ("/stock/lots/{lot}/", more_movements),
    ("/stock/ledger/", more_movements),
    ("/stock/loans/", more_loans),
    ("/stock/counts/", more_counts),
    ("/stock/counts/start/", more_places),
    ("/stock/counts/1/", more_counts),
    ("/stock/counts/1/review/", more_counts),
    ("/stock/counts/1/places/{place}/?page=9999", more_counts),
    ("/stock/counts/1/lines/{line}/", more_counts),
    ("/stock/counts/1/sheets/", more_counts),
    ("/stock/labels/?place={place}", more_labels),
    ("/stock/held/", more_holds),
    ("/stock/held/?where=yard", more_holds),
    ("/stock/lots/{lot}/", more_holds_of_a_lot),
    ("/houses/{house}/held/", more_holds),
    ("/stock/availability/", more_holds),
    ("/stock/availability/", more_materials),
    ("/stock/availability/{material}/", more_holds),
    ("/stock/availability/{material}/", more_lots),
    ("/stock/season-end/", more_lots),
    ("/stock/season-end/?day=2030-01-01&below=2", more_houses),
    ("/plans/", more_plans),
    ("/orders/", more_orders),
    ("/orders/?state=draft", more_orders),
    ("/invoices/", more_invoices),
    ("/invoices/?show=all", more_invoices),
    ("/costs/", more_paid),
    ("/costs/time/", more_paid),
    ("/costs/equipment/", more_paid),
    ("/costs/trips/", more_paid),
    ("/costs/prices/", more_paid),
    ("/crew/steps/", more_templates),
    ("/crew/rates/", more_records),
    ("/crew/?week=2087-01-06", more_tasks),
    ("/crew/week/2087-01-06/", more_tasks),
    ("/crew/worked/?week=2025-01-06", more_hours),
    ("/crew/worked/hours.xlsx", more_hours),
    ("/houses/{house}/tasks/", more_hours),
    ("/crew/problems/", more_problems),
    ("/crew/problems/?settled=1", more_problems),
    ("/crew/schedules/", more_tasks),
    ("/crew/day/", more_people),
    ("/crew/benders/?from=2087-01-05", more_bookings),
    ("/crew/benders/bookings/", more_bookings),
    ("/crew/benders/bookings/?past=1", more_bookings),
    ("/crew/benders/members/", more_bookings),
    ("/cooperative/members/", more_bookings),
    ("/crew/benders/requests/", more_requests),
    ("/crew/benders/who-gets-which/", more_requests),
    ("/crew/people/", more_people),
    ("/crew/people/one/", more_people),
    ("/crew/crews/one/", more_people),
    ("/crew/skills/", more_people),
    ("/crew/days-off/", more_people),
    ("/crew/crews/", more_crews),
    ("/crew/hours/", more_weeks),
    ("/crew/travel/?page=2", more_many_sites),
    ("/crew/wind/", more_wind),
    ("/crew/?week={tomorrow}", more_wind),
    ("/crew/week/{tomorrow}/", more_wind),
]


def address_of(organisation, address: str) -> str:
    """With what the organisation has first of each kind, and the day after today."""
    lot = Lot.objects.of(organisation).values_list("pk", flat=True).first()
    place = CountPlace.objects.filter(count__organisation=organisation).order_by("pk").first()
    place = place.place_id if place else Place.objects.of(organisation).values_list("pk", flat=True).first()
    line = CountLine.objects.filter(count__organisation=organisation).order_by("pk").values_list("pk", flat=True)
    line = line.first()
    house = House.objects.of(organisation).values_list("slug", flat=True).first()
    material = Lot.objects.of(organisation).values_list("material__code", flat=True).first()
    tomorrow = f"{timezone.now() + timedelta(days=1):%Y-%m-%d}"
    return address.format(lot=lot, place=place, line=line, house=house, material=material, tomorrow=tomorrow)


@pytest.mark.parametrize(("address", "more"), LISTS, ids=[address for address, _ in LISTS])
def test_a_list_costs_the_same_at_any_length(signed_in, organisation, address, more):
    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            answer = signed_in.get(address_of(organisation, address))
        assert answer.status_code == 200
        return len(asked)

    more(organisation, 0, FEW)
    few = queries()
    more(organisation, FEW, MANY)
    with connection.cursor() as cursor:
        # As a running database does by itself; without it PostgreSQL plans for ten rows.
        cursor.execute("ANALYZE")
    assert queries() == few
