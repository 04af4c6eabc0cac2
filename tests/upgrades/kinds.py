"""A farm, a contractor and a cooperative with rows in every table that an organisation owns."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Model
from django.utils import timezone

from farmbuild.buying.models import Invoice, InvoiceCheck, LessWanted, PurchaseOrderLine
from farmbuild.catalogue.models import Material, PriceList, Supplier
from farmbuild.coop.models import CommonOffer
from farmbuild.crew.models import BenderBooking, BookingMove, Kind, Member, Rate, SharingRules
from farmbuild.hoops.batches.measured.models import MeasuredHoop, ServiceRecord
from farmbuild.hoops.benders.models import Bender
from farmbuild.moving.ownership import owned_models, rows_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.models import Plan, PlanFromYard, PlanSavings
from farmbuild.plans.services import create_plan, work_out_plan
from farmbuild.quotes.bills.services import bill_stage
from farmbuild.quotes.models import Job, QuoteLink, QuoteVersion, ToCome
from farmbuild.sites.models import House, HouseOwnRow
from farmbuild.stock.models import Lot
from farmbuild.stock.services import reprice_lot
from tests.factories import FOOT, MembershipFactory, OrganisationFactory
from tests.plans.small_season import small_season
from tests.quotes.agreed import accepted_change, accepted_job, staged
from tests.quotes.built import CHANGED, QUOTED, Built

DAY = date(2026, 9, 1)


def a_farm() -> Organisation:
    """With a plan that is accepted: holds, orders and what they rest on."""
    farm = OrganisationFactory(name="Invented Farm", slug="invented-farm", invented=True)
    user = MembershipFactory(organisation=farm).user
    plan = create_plan(**small_season(farm).ask(user)).plan
    work_out_plan(plan.pk)
    plan.refresh_from_db()
    accept_plan(organisation=farm, user=user, plan=plan)
    return farm


def a_contractor() -> Organisation:
    """With a job that was quoted, changed, worked on and billed."""
    found = OrganisationFactory(name="Invented Builders", slug="invented-builders", invented=True)
    user = MembershipFactory(organisation=found).user
    job = accepted_job(found, user, QUOTED)
    accepted_change(job, user, CHANGED)
    Built(found, user, job).all()
    bill_stage(organisation=found, user=user, job=job, stage=staged(job)[0])
    return found


def fill(organisation: Organisation) -> None:
    """A row in each table that the season of a growers' group leaves empty."""
    user = organisation.memberships.filter(role="owner").earliest("pk").user
    for label, make in FILLED.items():
        if not rows_of(_model(label), organisation.pk).exists():
            make(organisation, user)


def empty(organisations: list[Organisation]) -> list[str]:
    """Tables in which none of them has a row."""
    keys = [one.pk for one in organisations]
    return [
        model._meta.label for model in owned_models() if not any(rows_of(model, key).exists() for key in keys)
    ]  # fmt: skip


def _model(label: str) -> type[Model]:
    return next(model for model in owned_models() if model._meta.label == label)


def _price_list(organisation: Organisation, user: User) -> None:
    supplier = Supplier.objects.filter(organisation=organisation).first()
    rows = [["Rail", "10'", "14.50"]]
    PriceList.objects.create(
        organisation=organisation,
        supplier=supplier,
        filename="prices.csv",
        sha256="0" * 64,
        sheets=[{"name": "prices", "rows": rows}],
        read_by=user,
    )


def _own_row(organisation: Organisation, user: User) -> None:
    house = House.objects.filter(organisation=organisation).first()
    material = Material.objects.filter(organisation=organisation).first()
    HouseOwnRow.objects.create(house=house, position=1, material=material, quantity=2, note="For the door")


def _measured(organisation: Organisation, user: User) -> None:
    tube = Material.objects.filter(organisation=organisation, kind="tube").first()
    sizes = {"free_span": FOOT * 12, "rise": FOOT * 6, "pipe": FOOT * 19, "radius": FOOT * 6}
    MeasuredHoop.objects.create(
        organisation=organisation, bender=_bender(organisation), day=DAY, by=user, tube=tube, **sizes
    )


def _service(organisation: Organisation, user: User) -> None:
    ServiceRecord.objects.create(
        organisation=organisation,
        bender=_bender(organisation),
        day=DAY,
        by=user,
        done="Rollers greased",
        who="Ann",
        pulls=40,
    )


def _repricing(organisation: Organisation, user: User) -> None:
    lot = Lot.objects.filter(organisation=organisation, on_hand__gt=0, owner=None).first()
    reprice_lot(
        organisation=organisation, user=user, lot=lot, unit_cost=(lot.unit_cost or 0) + Decimal(1), reason="Counted"
    )


def _savings(organisation: Organisation, user: User) -> None:
    plan = Plan.objects.filter(organisation=organisation).first()
    PlanSavings.objects.create(organisation=organisation, plan=plan, created_by=user, state="failed", problem="None")


def _from_yard(organisation: Organisation, user: User) -> None:
    plan = Plan.objects.filter(organisation=organisation).first()
    PlanFromYard.objects.create(
        organisation=organisation,
        plan=plan,
        by="day",
        created_by=user,
        starts_at=timezone.now(),
        asked={"builders": None, "held": []},
        state="failed",
        problem="None",
    )


def _check(organisation: Organisation, user: User) -> None:
    invoice = Invoice.objects.filter(organisation=organisation).first()
    InvoiceCheck.objects.create(invoice=invoice, by=user, words="Agreed by telephone")


def _less(organisation: Organisation, user: User) -> None:
    line = PurchaseOrderLine.objects.filter(order__organisation=organisation).first()
    plan = Plan.objects.filter(organisation=organisation).first()
    LessWanted.objects.create(line=line, plan=plan, quantity=1, made_by=user)


def _move(organisation: Organisation, user: User) -> None:
    booking = BenderBooking.objects.filter(organisation=organisation).first()
    BookingMove.objects.create(
        organisation=organisation,
        booking=booking,
        from_bender=booking.bender,
        from_first=booking.first - timedelta(days=1),
        from_last=booking.last,
        to_bender=booking.bender,
        to_first=booking.first,
        to_last=booking.last,
        moved_by=user,
    )


def _link(organisation: Organisation, user: User) -> None:
    version = QuoteVersion.objects.filter(organisation=organisation).first()
    ends = timezone.now() + timedelta(days=9)
    QuoteLink.objects.create(
        organisation=organisation,
        job=version.quote.job,
        version=version,
        digest="a" * 64,
        expires_at=ends,
        made_by=user,
    )


def _to_come(organisation: Organisation, user: User) -> None:
    job = Job.objects.filter(organisation=organisation).first()
    ToCome.objects.create(organisation=organisation, job=job, amount=Decimal(250), reason="Film again", by=user)


def _for_one(organisation: Organisation, user: User) -> None:
    offer = CommonOffer.objects.filter(organisation=organisation).first()
    offer.members.add(Member.objects.filter(organisation=organisation).first())


def _bender(organisation: Organisation) -> Bender:
    return Bender.objects.filter(organisation=organisation).first()


FILLED: dict[str, Callable[[Organisation, User], object]] = {
    "catalogue.PriceList": _price_list,
    "sites.HouseOwnRow": _own_row,
    "hoops.MeasuredHoop": _measured,
    "hoops.ServiceRecord": _service,
    "stock.Repricing": _repricing,
    "plans.PlanSavings": _savings,
    "plans.PlanFromYard": _from_yard,
    "buying.InvoiceCheck": _check,
    "buying.LessWanted": _less,
    "crew.Rate": lambda mine, _: Rate.objects.create(organisation=mine, kind=Kind.SET, minutes_each=Decimal("4.25")),
    "crew.BookingMove": _move,
    "crew.SharingRules": lambda mine, _: SharingRules.objects.create(organisation=mine, season_month=3),
    "quotes.QuoteLink": _link,
    "quotes.ToCome": _to_come,
    "coop.CommonOffer_members": _for_one,
}


def three(cooperative: Organisation) -> Iterator[Organisation]:
    fill(cooperative)
    yield from (cooperative, a_farm(), a_contractor())
