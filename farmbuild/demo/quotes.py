"""An invented customer, what was seen on the ground, and a quote of three options."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from io import BytesIO
from typing import Any

from PIL import Image, ImageDraw

from farmbuild.crew.problems.pictures import read_picture
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.quotes.customers.services import save_customer
from farmbuild.quotes.jobs.services import add_photos, create_job, save_survey
from farmbuild.quotes.models import Option
from farmbuild.quotes.pricing import services
from farmbuild.quotes.pricing.specs import houses_from
from farmbuild.quotes.sending.services import send_quote
from farmbuild.sites.models import House
from farmbuild.sites.starters import values_like

_FOOT = Decimal("304.8")
RATES = {
    "labour": Decimal("31.20"),
    "overhead": Decimal("11.50"),
    "bender_day": Decimal(18),
    "trip": Decimal("27.28"),
    "contingency": Decimal(4),
    "margin": Decimal(18),
    "waste": Decimal(5),
    "tax_materials": Decimal("6.25"),
    "exclusions": "Ground work, water and power.",
}


def enter_rates(organisation: Organisation, user: User) -> None:
    """What quotes are reckoned with."""
    services.save_rates(organisation=organisation, user=user, data=RATES)


def enter_quote(organisation: Organisation, user: User, house: House) -> None:
    """``house``: the one that it is priced like. Prices and people are invented."""
    who: dict[str, Any] = {"organisation": organisation, "user": user}
    customer = save_customer(
        **who,
        data={
            "name": "Fernhill Growers (invented)",
            "contact": "Ida Fern",
            "email": "ida@fernhill.example",
            "address": "2 Made-up Road",
        },
    )
    job = create_job(**who, data={"customer": customer, "name": "One growing house"})
    today = today_of(organisation=organisation)
    survey = {
        "looked_on": today,
        "looked_by": user.display_name,
        "ground_span": _FOOT * 20,
        "ground_length": _FOOT * 90,
        "slope": Decimal("1.5"),
        "soil": "Sandy, a few roots",
        "access": "Lorry to the gate, 60 paces by hand",
        "overhead": "none",
        "buried": "asked",
    }
    save_survey(**who, job=job, data=survey)
    add_photos(**who, job=job, pictures=[read_picture(_drawn())], caption="The ground from the gate (drawn)")
    quote = services.create_quote(**who, job=job)
    option = services.rename_option(**who, option=quote.options.get(), name="As asked for")
    services.take_house(**who, option=option, house=house)
    like_it(option, "Longer", who, length=house.length + _FOOT * 24)
    door = services.add_option(**who, quote=quote, name="Second door", like=option)
    row = {"kind": "goods", "what": "Door set", "quantity": Decimal(1), "price": Decimal("41.50")}
    services.add_line(**who, option=door, data=row | {"source": "Phone call (invented)"})
    send_quote(**who, quote=quote, valid_until=today + timedelta(days=quote.valid_days), how="By e-mail")


def like_it(option: Option, name: str, who: dict[str, Any], **changes: Decimal) -> None:
    """Another option of the quote, whose one house differs by ``changes``."""
    made = services.add_option(**who, quote=option.quote, name=name, like=option)
    house = made.houses.get()
    data = values_like(houses_from([house], organisation=option.organisation)[0]) | changes
    services.save_house(**who, house=house, name=house.name, quantity=1, data=data)


def _drawn() -> bytes:
    """Grass and sky, so that nothing real is shown."""
    image = Image.new("RGB", (320, 240), "lightblue")
    ImageDraw.Draw(image).rectangle((0, 130, 320, 240), fill="olivedrab")
    out = BytesIO()
    image.save(out, "JPEG")
    return out.getvalue()
