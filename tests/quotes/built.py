"""A job as it was built, entered through services: the materials, time and bender of the worked example."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from farmbuild.catalogue.models import Material, OfferRecord
from farmbuild.costs.equipment.services import charge_day
from farmbuild.costs.rates import set_equipment_rate
from farmbuild.costs.time.services import type_time
from farmbuild.quotes.models import Job, JobHouse
from farmbuild.stock import services as stock
from tests.costs.making import DAY, Team
from tests.factories import FOOT, PlaceFactory, SupplierFactory
from tests.quotes.agreed import goods, hours, line

TEN, TWELVE, SIXTEEN = (str(FOOT * feet) for feet in (10, 12, 16))
#: Name, code, kind, and the length of what there is in lengths.
THINGS = {
    "rail": ("Rail", "tube", TEN),
    "film": ("Film", "hardware", ""),
    "2x6": ("2x6", "lumber", ""),
    "2x4": ("2x4", "lumber", TEN),
    "screw": ("Screw", "fastener", ""),
    "delivery": ("Delivery", "hardware", ""),
    "door-set": ("Door set", "hardware", ""),
}
#: The quote of the worked example, and its change order.
QUOTED = (
    goods("Rail, 10'", 41, "14.60", "rail", TEN),
    goods("Film", 1, "298", "film"),
    goods("2x6, 16'", 7, "16.55", "2x6", SIXTEEN),
    goods("Screw", 150, "0.07", "screw"),
    # Typed by hand: found by what it is called.
    line("charge", "delivery", 1, "85"),
    hours("set", 26),
    hours("film", "9.25"),
    line("equipment", "Bender", 2, "18"),
)
CHANGED = (goods("2x4", 4, "7.60", "2x4", TEN), goods("Door set", 1, "41.50", "door-set"), hours("ends", "3.25"))
#: Lots: of what, which length, pieces received and issued, the price of one.
ISSUED = (
    ("rail", TEN, 25, 20, "12.90"),
    ("rail", TEN, 30, 22, "15.10"),
    ("film", "", 1, 1, "311.25"),
    ("2x6", TWELVE, 10, 10, "12.65"),
    ("screw", "", 500, 163, "0.0655"),
    ("delivery", "", 1, 1, "97.40"),
    ("2x4", TEN, 8, 5, "7.95"),
    ("door-set", "", 1, 1, "41.50"),
)


class Built:
    """``house`` of ``job``, with all that the worked example used."""

    def __init__(self, organisation: Any, user: Any, job: Job, house: Any = None) -> None:
        """``house``: of the job already; None: one that is put into it."""
        self.organisation, self.job = organisation, job
        self.who = {"organisation": organisation, "user": user}
        self.team = Team(organisation, user).rates()
        self.house = house or self.team.house
        JobHouse.objects.get_or_create(organisation=organisation, job=job, house=self.house)
        self.materials = {code: self._material(code, *thing) for code, thing in THINGS.items()}

    def _material(self, code: str, name: str, kind: str, length: str) -> Material:
        return Material.objects.create(
            organisation=self.organisation,
            code=code,
            name=name,
            kind=kind,
            width=FOOT / 8 if kind in ("tube", "lumber") else None,
            thickness=FOOT / 100 if kind == "tube" else FOOT / 24 if kind == "lumber" else None,
        )

    def offers(self, code: str, length: str, price: str, since: date) -> None:
        """What somebody offered it at on a day."""
        OfferRecord.objects.create(
            organisation=self.organisation,
            kind=OfferRecord.Kind.TYPED,
            offer_key=OfferRecord.objects.count() + 1,
            supplier=SupplierFactory(organisation=self.organisation),
            material=self.materials[code],
            length=Decimal(length) if length else None,
            pack=1,
            prices=[[1, price]],
            currency=self.organisation.currency,
            since=since,
        )

    def uses_materials(self) -> None:
        place = PlaceFactory(organisation=self.organisation)
        for code, length, received, issued, price in ISSUED:
            lot = stock.receive_lot(
                **self.who,
                material=self.materials[code],
                quantity=received,
                place=place,
                received_on=DAY,
                length=Decimal(length) if length else None,
                unit_cost=Decimal(price),
            )
            stock.issue_pieces(**self.who, lot=lot, quantity=issued, reason="frame", house=self.house)

    def works(self) -> None:
        rows = [
            *((person, 435, "set", "", day) for day in (0, 1) for person in (self.team.ann, self.team.ben)),
            (self.team.ann, 480, "film", "", 2),
            (self.team.ben, 195, "", "Set two posts again", 2),
            (self.team.ann, 240, "ends", "", 3),
        ]
        for person, minutes, step, what, day in rows:
            type_time(
                **self.who,
                person=person,
                day=DAY + timedelta(days=day),
                house=self.house,
                step=step,
                what=what,
                minutes=minutes,
            )

    def bends(self) -> None:
        thing = set_equipment_rate(**self.who, since=date(2026, 1, 1), a_day=Decimal(18), name="Bender").equipment
        for day in range(3):
            charge_day(**self.who, equipment=thing, day=DAY + timedelta(days=day), house=self.house)

    def all(self) -> Built:
        self.offers("2x6", TWELVE, "12.20", date(2026, 8, 1))
        # Dearer, and one of after the quote.
        self.offers("2x6", TWELVE, "12.90", date(2026, 8, 1))
        self.offers("2x6", TWELVE, "9.90", date(2026, 10, 1))
        self.uses_materials()
        self.works()
        self.bends()
        return self
