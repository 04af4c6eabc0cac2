"""A batch to test with: 13 hoops of 12 ft over posts 12 ft apart, from a rack of 60 sticks."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.models import HoopBatch, TrialHoop
from farmbuild.hoops.batches.selectors import trial_to_ask_of
from farmbuild.hoops.benders.models import Bender
from farmbuild.mechanics import bent_hoop
from farmbuild.orgs.models import Organisation, User
from farmbuild.stock.models import Lot
from tests.factories import FOOT, INCH, LotFactory, MaterialFactory, RecipeFactory

#: Two 10 ft sticks with 4 in of insertion.
PIPE = INCH * 236
#: Posts 12 ft apart and 13 1/2 in of spring-in.
TARGET = INCH * Decimal("157.5")


@dataclass
class Shop:
    organisation: Organisation
    user: User
    batch: HoopBatch
    lot: Lot

    @property
    def who(self) -> dict[str, object]:
        return {"organisation": self.organisation, "user": self.user}

    @property
    def on(self) -> dict[str, object]:
        return self.who | {"batch": self.batch}

    def issue(self, quantity: int):
        return services.issue_sticks(**self.on, lot=self.lot, quantity=quantity)

    def measure(self, span: Decimal, rise: Decimal | None = None, **more: object) -> TrialHoop:
        """A trial hoop that is an arc, unless ``rise`` says otherwise; of the same sticks again, unless said."""
        said = {name: more.pop(name) for name in ("same_sticks", "lot", "seen") if name in more}
        if not said and trial_to_ask_of(batch=self.batch):
            said["same_sticks"] = True
        data = {"free_span": span, "rise": rise_over(span) if rise is None else rise} | more
        return services.record_trial(**self.on, data=data, **said)

    def prove(self) -> None:
        self.issue(2)
        services.accept_trial(**self.on, trial=self.measure(TARGET))

    def now(self) -> HoopBatch:
        self.batch.refresh_from_db()
        return self.batch


def rise_over(span: Decimal) -> Decimal:
    """Rise of an arc of PIPE over that span, by bisection on the handbook's chord and arc."""
    from math import cos, sin

    low, high = 1e-9, 3.1415926
    for _ in range(200):
        half = (low + high) / 2
        low, high = (half, high) if sin(half) / half > float(span / PIPE) else (low, half)
    return Decimal(repr(round(float(PIPE) / (2 * half) * (1 - cos(half)), 6)))


def make_bender(organisation: Organisation, **values: object) -> Bender:
    given = {"name": "Yard bender", "slug": "yard-bender", "rated_radius": INCH * 79, "rated_span": FOOT * 12}
    return Bender.objects.create(organisation=organisation, **(given | values))


def make_shop(organisation: Organisation, user: User, **values: object) -> Shop:
    rail = MaterialFactory(organisation=organisation, code="rail-1-3-8", name="1-3/8 in rail")
    recipe = RecipeFactory(organisation=organisation, name="12 ft hoop", slug="hoop-12-ft", tube=rail, radius=INCH * 79)
    given = {"recipe": recipe, "bender": make_bender(organisation), "quantity": 13, "shares": {}} | values
    data = {"post_span": FOOT * 12, "spring_in": TARGET - FOOT * 12}
    batch = services.create_batch(organisation=organisation, user=user, data=data, **given)
    return Shop(organisation, user, batch, LotFactory(material=rail, on_hand=60))


assert abs(bent_hoop(float(PIPE), float(INCH * 79)).span - float(TARGET)) < 1
