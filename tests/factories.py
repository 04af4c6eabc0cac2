"""Made-up rows for tests; every one belongs to one organisation."""

from __future__ import annotations

from datetime import date, time, timedelta
from decimal import Decimal

import factory
from factory import LazyAttribute, SelfAttribute, Sequence, SubFactory
from factory.django import DjangoModelFactory

from farmbuild.catalogue.models import Material, Offer, PriceBreak, Supplier
from farmbuild.coop.models import JointOrder, MemberFarm
from farmbuild.crew.models import (
    BenderBooking,
    BenderRequest,
    Crew,
    DayOff,
    Member,
    MemberSignIn,
    Person,
    Skill,
    WorkHours,
    WorkWeek,
)
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.orgs.models import Membership, Organisation, User
from farmbuild.sites.models import House, Site
from farmbuild.stock.costing import first_amount
from farmbuild.stock.models import Lot, Movement, Place

FOOT = Decimal("304.8")
INCH = Decimal("25.4")


class UserFactory(DjangoModelFactory):
    class Meta:
        model = User

    username = Sequence(lambda n: f"grower{n}")


class OrganisationFactory(DjangoModelFactory):
    class Meta:
        model = Organisation

    name = Sequence(lambda n: f"Invented Farm {n}")
    slug = Sequence(lambda n: f"invented-farm-{n}")
    unit_system = "imperial"
    currency = "USD"
    address = "1 Made-up Lane"


class MembershipFactory(DjangoModelFactory):
    class Meta:
        model = Membership

    organisation = SubFactory(OrganisationFactory)
    user = SubFactory(UserFactory)


class MaterialFactory(DjangoModelFactory):
    """A 1-3/8 in rail, or 1-5/8 in post where it is not swaged; give ``kind`` and ``code`` for anything else."""

    class Meta:
        model = Material

    organisation = SubFactory(OrganisationFactory)
    code = Sequence(lambda n: f"rail-{n}")
    name = LazyAttribute(lambda row: f"Material {row.code}")
    kind = "tube"
    width = LazyAttribute(lambda row: INCH * Decimal("1.375" if row.swaged else "1.66") if row.kind == "tube" else None)
    thickness = LazyAttribute(lambda row: INCH * Decimal("0.065") if row.kind == "tube" else None)
    swaged = LazyAttribute(lambda row: row.kind == "tube")


class SupplierFactory(DjangoModelFactory):
    class Meta:
        model = Supplier

    organisation = SubFactory(OrganisationFactory)
    code = Sequence(lambda n: f"supplier-{n}")
    name = LazyAttribute(lambda row: f"Invented {row.code}")


class OfferFactory(DjangoModelFactory):
    class Meta:
        model = Offer
        skip_postgeneration_save = True

    organisation = SelfAttribute("supplier.organisation")
    supplier = SubFactory(SupplierFactory)
    material = SubFactory(MaterialFactory, organisation=SelfAttribute("..supplier.organisation"))
    length = FOOT * 10
    pack = 1
    lead_days = 7

    @factory.post_generation
    def price(self, create, extracted, **kwargs):
        if create:
            PriceBreak.objects.create(offer=self, from_quantity=1, unit_price=Decimal(extracted or "12.5"))


class RecipeFactory(DjangoModelFactory):
    """Two 10 ft sticks of rail for a 12 ft hoop."""

    class Meta:
        model = Recipe

    organisation = SubFactory(OrganisationFactory)
    name = Sequence(lambda n: f"Hoop {n}")
    slug = Sequence(lambda n: f"hoop-{n}")
    tube = SubFactory(MaterialFactory, organisation=SelfAttribute("..organisation"))
    stick_length = FOOT * 10
    sticks = 2
    insertion = INCH * 4
    radius = INCH * 76
    #: Seven marks from 9 in, all clear of the joint.
    pitch = INCH * 17


class SiteFactory(DjangoModelFactory):
    class Meta:
        model = Site

    organisation = SubFactory(OrganisationFactory)
    name = Sequence(lambda n: f"Field {n}")
    slug = Sequence(lambda n: f"field-{n}")


class HouseFactory(DjangoModelFactory):
    """A bare 12 ft x 48 ft frame with ground posts."""

    class Meta:
        model = House

    organisation = SelfAttribute("site.organisation")
    site = SubFactory(SiteFactory)
    name = Sequence(lambda n: f"House {n}")
    slug = Sequence(lambda n: f"house-{n}")
    need_date = date(2027, 5, 12)
    post_span = FOOT * 12
    length = FOOT * 48
    spacing_wanted = FOOT * 4
    recipe = SubFactory(RecipeFactory, organisation=SelfAttribute("..site.organisation"))
    post_material = SubFactory(MaterialFactory, organisation=SelfAttribute("..site.organisation"), swaged=False)
    post_length = INCH * 48
    post_depth = INCH * 24


class PlaceFactory(DjangoModelFactory):
    class Meta:
        model = Place

    organisation = SubFactory(OrganisationFactory)
    name = Sequence(lambda n: f"Rack {n}")


class LotFactory(DjangoModelFactory):
    """A received lot: its first movement is there, so on hand is the sum of movements."""

    class Meta:
        model = Lot
        skip_postgeneration_save = True

    organisation = SelfAttribute("material.organisation")
    material = SubFactory(MaterialFactory)
    place = SubFactory(PlaceFactory, organisation=SelfAttribute("..material.organisation"))
    reference = Sequence(lambda n: f"T-{n:04d}")
    length = FOOT * 10
    unit_cost = Decimal("11")
    received_on = date(2027, 1, 15)
    on_hand = 20

    @factory.post_generation
    def received(self, create, extracted, **kwargs):
        if create and self.on_hand:
            amount = first_amount(self, self.organisation.currency)
            Movement.objects.create(lot=self, kind=Movement.Kind.RECEIVE, quantity=self.on_hand, amount=amount)
            self.value = amount


class WorkWeekFactory(DjangoModelFactory):
    """Monday to Friday, 07:00 to 12:00 and 12:30 to 16:00; ``hours=[(day, starts, ends), ...]`` for others."""

    class Meta:
        model = WorkWeek
        skip_postgeneration_save = True

    organisation = SubFactory(OrganisationFactory)
    name = Sequence(lambda n: f"Week {n}")

    @factory.post_generation
    def hours(self, create, extracted, **kwargs):
        if create:
            usual = [(day, *span) for day in range(5) for span in [(time(7), time(12)), (time(12, 30), time(16))]]
            rows = usual if extracted is None else extracted
            WorkHours.objects.bulk_create(
                WorkHours(week=self, day=day, starts=starts, ends=ends) for day, starts, ends in rows
            )


class CrewFactory(DjangoModelFactory):
    class Meta:
        model = Crew

    organisation = SubFactory(OrganisationFactory)
    name = Sequence(lambda n: f"Crew {n}")
    slug = Sequence(lambda n: f"crew-{n}")
    week = SubFactory(WorkWeekFactory, organisation=SelfAttribute("..organisation"))


class SkillFactory(DjangoModelFactory):
    class Meta:
        model = Skill

    organisation = SubFactory(OrganisationFactory)
    name = Sequence(lambda n: f"Skill {n}")


class PersonFactory(DjangoModelFactory):
    """In a crew of their own unless ``crew`` is given; ``skills=[...]``."""

    class Meta:
        model = Person
        skip_postgeneration_save = True

    organisation = SelfAttribute("crew.organisation")
    crew = SubFactory(CrewFactory)
    name = Sequence(lambda n: f"Person {n}")
    slug = Sequence(lambda n: f"person-{n}")

    @factory.post_generation
    def skills(self, create, extracted, **kwargs):
        if create and extracted:
            self.skills.set(extracted)


class DayOffFactory(DjangoModelFactory):
    """Of everybody unless ``person`` is given."""

    class Meta:
        model = DayOff

    organisation = SubFactory(OrganisationFactory)
    first = date(2027, 5, 3)
    last = SelfAttribute("first")


class BenderFactory(DjangoModelFactory):
    class Meta:
        model = Bender

    organisation = SubFactory(OrganisationFactory)
    name = Sequence(lambda n: f"Bender {n}")
    slug = Sequence(lambda n: f"bender-{n}")
    rated_radius = INCH * 76
    rated_span = FOOT * 12


class MemberFactory(DjangoModelFactory):
    class Meta:
        model = Member

    organisation = SubFactory(OrganisationFactory)
    name = Sequence(lambda n: f"Member {n}")
    slug = Sequence(lambda n: f"member-{n}")


class MemberSignInFactory(DjangoModelFactory):
    """Open, with a password."""

    class Meta:
        model = MemberSignIn

    organisation = SelfAttribute("member.organisation")
    member = SubFactory(MemberFactory)
    user = SubFactory(UserFactory, visitor=True)


class MemberFarmFactory(DjangoModelFactory):
    """Stands; of a farm with nobody in it."""

    class Meta:
        model = MemberFarm

    organisation = SelfAttribute("member.organisation")
    member = SubFactory(MemberFactory)
    farm = SubFactory(OrganisationFactory)


class BenderBookingFactory(DjangoModelFactory):
    """For a member, three days."""

    class Meta:
        model = BenderBooking

    organisation = SelfAttribute("bender.organisation")
    bender = SubFactory(BenderFactory)
    member = SubFactory(MemberFactory, organisation=SelfAttribute("..bender.organisation"))
    first = date(2027, 5, 3)
    last = LazyAttribute(lambda row: row.first + timedelta(days=2))


class BenderRequestFactory(DjangoModelFactory):
    """Two days out of six."""

    class Meta:
        model = BenderRequest

    organisation = SelfAttribute("member.organisation")
    member = SubFactory(MemberFactory)
    days = 2
    earliest = date(2087, 5, 3)
    need_by = LazyAttribute(lambda row: row.earliest + timedelta(days=5))


class JointOrderFactory(DjangoModelFactory):
    """Open for a long time."""

    class Meta:
        model = JointOrder

    organisation = SubFactory(OrganisationFactory)
    number = Sequence(lambda n: n + 1)
    title = "Rail and pipe"
    closes_on = date(2087, 3, 1)
    need_by = date(2087, 3, 22)
    delivery_site = SubFactory(SiteFactory, organisation=SelfAttribute("..organisation"))
