"""A quote of the worked example that can be sent: each option has a house."""

from __future__ import annotations

from datetime import timedelta

from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.quotes.models import Job, Option, OptionHouse, Quote, QuoteVersion
from farmbuild.quotes.pricing import services
from farmbuild.quotes.pricing.specs import packed_house
from farmbuild.quotes.sending.services import send_quote
from farmbuild.sites.models import House
from tests.factories import HouseFactory, SiteFactory
from tests.quotes.begun import add_lines, begin


def quoted(
    organisation: Organisation, user: User, names: tuple[str, ...] = ("48'", "72'"), **rates
) -> tuple[Job, Quote]:
    job, quote, first = begin(organisation, user, **rates)
    house = HouseFactory(organisation=organisation, site=SiteFactory(organisation=organisation, name="Own yard"))
    for at, name in enumerate(names):
        option = first
        if at:
            option = services.add_option(organisation=organisation, user=user, quote=quote, name=name)
        put_house(option, house, name)
        add_lines(option, name, user)
    quote.exclusions = "Levelling of the ground\nWater and power"
    quote.save()
    return job, quote


def put_house(option: Option, house: House, name: str, quantity: int = 1) -> OptionHouse:
    spec, rows = packed_house(House.objects.select_related("recipe__tube").get(pk=house.pk))
    return OptionHouse.objects.create(
        organisation=option.organisation,
        option=option,
        position=option.houses.count() + 1,
        name=f"House {name}",
        quantity=quantity,
        spec=spec,
        own_rows=rows,
    )


def sent(organisation: Organisation, user: User, quote: Quote, days: int = 30, how: str = "by e-mail") -> QuoteVersion:
    until = today_of(organisation=organisation) + timedelta(days=days)
    return send_quote(organisation=organisation, user=user, quote=quote, valid_until=until, how=how)
