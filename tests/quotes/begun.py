"""A customer, a job and a quote to test with, and the worked example."""

from __future__ import annotations

from decimal import Decimal

from farmbuild.orgs.models import Organisation, User
from farmbuild.planning.pricing.quote import with_waste
from farmbuild.quotes.customers.services import save_customer
from farmbuild.quotes.jobs.services import create_job
from farmbuild.quotes.models import Job, Option, Quote
from farmbuild.quotes.pricing import services

D = Decimal
RATES = {
    "labour": D("31.20"),
    "overhead": D("11.50"),
    "bender_day": D("18.00"),
    "trip": D("27.28"),
    "contingency": D(4),
    "margin": D(18),
    "waste": D(5),
    "tax_materials": D("6.25"),
}
#: Sticks of hoops; pipe 21', rail 21', film, channel, screws, anchors; hours, days, trips.
HOUSES = {
    "48'": (39, 6, 9, 1, 12, 150, 8, "64.50", 2, 6),
    "72'": (57, 8, 12, 1, 18, 210, 8, "88.25", 3, 8),
    "48' at 3'": (51, 7, 9, 1, 12, 190, 8, "76", 2, 7),
}
#: Materials, labour, overhead, equipment; cost, contingency; prices of the three kinds; before tax, tax, total: each
#: worked out twice by hand, by decimals and by fractions.
FIGURES = {
    "48'": "1692.60 2012.40 741.75 199.68 4646.43 185.86 2146.71 3493.07 253.26 5893.04 134.17 6027.21",
    "72'": "2132.20 2753.40 1014.88 272.24 6172.72 246.91 2704.26 4779.28 345.28 7828.82 169.02 7997.84",
    "48' at 3'": "1856.80 2371.20 874.00 226.96 5328.96 213.16 2354.96 4115.87 287.85 6758.68 147.19 6905.87",
    "door": "71.90 101.40 37.38 0 210.68 8.43 91.20 176.01 0 267.21 5.70 272.91",
}


def lines_of(name: str) -> list[tuple[str, str, Decimal, Decimal | None]]:
    """(kind, what, quantity, price) of an option of the worked example."""
    if name == "door":
        return [
            ("goods", "2x4", D(4), D("7.60")),
            ("goods", "door set", D(1), D("41.50")),
            ("hours", "door", D("3.25"), None),
        ]
    hoops, pipe, rail, film, channel, screws, anchors, hours, days, trips = HOUSES[name]
    sticks = with_waste(hoops, RATES["waste"])
    return [
        ("goods", "rail 10'", D(sticks), D("13.40") if sticks >= 50 else D("14.60")),
        ("goods", "pipe 21'", D(pipe), D("36.40")),
        ("goods", "rail 21'", D(rail), D("29.90")),
        ("goods", "film", D(film), D(298)),
        ("goods", "channel", D(channel), D("11.25")),
        ("goods", "screws", D(screws), D("0.07")),
        ("goods", "anchors", D(anchors), D("9.75")),
        ("charge", "delivery", D(1), D(85)),
        ("hours", "all work", D(hours), None),
        ("equipment", "bender", D(days), D(18)),
        ("trip", "trips", D(trips), D("27.28")),
    ]


def begin(organisation: Organisation, user: User, **rates: Decimal) -> tuple[Job, Quote, Option]:
    """A quote with one empty option."""
    who = {"organisation": organisation, "user": user}
    customer = save_customer(**who, data={"name": "Fernhill Growers (invented)"})
    job = create_job(**who, data={"customer": customer, "name": "One growing house"})
    services.save_rates(**who, data=RATES | rates)
    quote = services.create_quote(**who, job=job)
    return job, quote, quote.options.get()


def add_lines(option: Option, name: str, user: User) -> None:
    for kind, what, quantity, price in lines_of(name):
        data = {"kind": kind, "what": what, "quantity": quantity, "price": price, "source": ""}
        services.add_line(organisation=option.organisation, user=user, option=option, data=data)
