"""Options priced to the coin, worked out of houses at today's offers, and told apart; nothing else is written."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError

from farmbuild.measure import places
from farmbuild.orgs.models import Organisation
from farmbuild.quotes.models import MAX_OPTIONS, Option, Quote, QuoteLine
from farmbuild.quotes.pricing import services
from farmbuild.quotes.pricing.bridge import PartKind, price_lines
from farmbuild.quotes.pricing.presenters import lines_shown, options_shown
from farmbuild.quotes.pricing.selectors import whole_quotes_of
from farmbuild.quotes.pricing.working_out import NO_HOUSE
from tests.factories import (
    FOOT,
    HouseFactory,
    LotFactory,
    MembershipFactory,
    OfferFactory,
    OrganisationFactory,
    SupplierFactory,
)
from tests.quotes.begun import FIGURES, RATES, add_lines, begin

pytestmark = pytest.mark.django_db
D = Decimal


def who(organisation, user):
    return {"organisation": organisation, "user": user}


def whole(quote: Quote) -> Quote:
    return whole_quotes_of(organisation=quote.organisation).get(pk=quote.pk)


def figures(option: Option) -> list[Decimal]:
    priced = price_lines(option.quote, option.lines.all(), option.quote.currency).priced
    return [
        priced.part(PartKind.MATERIALS).cost,
        priced.labour,
        priced.overhead,
        priced.part(PartKind.EQUIPMENT).cost,
        priced.cost,
        priced.contingency,
        *(priced.part(kind).price for kind in PartKind),
        priced.before_tax,
        priced.tax,
        priced.total,
    ]


def test_the_worked_example_to_the_cent_side_by_side(organisation, user):
    _, quote, first = begin(organisation, user)
    add_lines(first, "48'", user)
    for name in ("72'", "48' at 3'", "door"):
        add_lines(services.add_option(**who(organisation, user), quote=quote, name=name), name, user)
    options = list(quote.options.all())
    for option, name in zip(options, FIGURES, strict=True):
        assert figures(option) == [D(figure) for figure in FIGURES[name].split()], name
    shown = options_shown(whole(quote))
    longer = shown[1].unlike
    # Each worked by hand from the table: 2704.26 - 2146.71, 4779.28 - 3493.07, 345.28 - 253.26, 169.02 - 134.17.
    assert [amount for _, amount in longer.parts] == [D("557.55"), D("1286.21"), D("92.02"), D("34.85")]
    assert sum(amount for _, amount in longer.parts) == longer.total == D("7997.84") - D("6027.21")
    assert sum(amount for *_, amount in longer.lines) == longer.total - D("34.85")
    assert "$1,970.63 more than Option 1" in longer.words


@pytest.mark.parametrize("currency", ["JPY", "KWD"])
def test_other_coins(currency, db):
    organisation = OrganisationFactory(currency=currency)
    user = MembershipFactory(organisation=organisation).user
    _, quote, option = begin(organisation, user, tax_work=D("2.5"))
    add_lines(option, "48'", user)
    coin = D(1).scaleb(-places(currency))

    def half_up(amount: Fraction) -> Fraction:
        return Fraction((amount / Fraction(coin) + Fraction(1, 2)).__floor__()) * Fraction(coin)

    rows = list(option.lines.all())
    cost = {PartKind.MATERIALS: Fraction(0), PartKind.EQUIPMENT: Fraction(0), PartKind.WORK: Fraction(0)}
    hours = sum((Fraction(line.quantity) for line in rows if line.kind == "hours"), Fraction(0))
    cost[PartKind.WORK] = half_up(hours * Fraction("31.2")) + half_up(hours * Fraction("11.5"))
    for line in rows:
        if line.kind != "hours":
            part = PartKind.MATERIALS if line.kind in ("goods", "charge") else PartKind.EQUIPMENT
            cost[part] += half_up(Fraction(line.quantity) * Fraction(line.price))
    taxes = {PartKind.MATERIALS: Fraction("6.25"), PartKind.WORK: Fraction("2.5"), PartKind.EQUIPMENT: Fraction(0)}
    prices = {kind: half_up((part + half_up(part * 4 / 100)) / Fraction("0.82")) for kind, part in cost.items()}
    total = sum(price + half_up(price * taxes[kind] / 100) for kind, price in prices.items())
    priced = price_lines(quote, rows, currency).priced
    assert Fraction(priced.total) == total
    shown = lines_shown(option, quote, price_lines(quote, rows, currency))
    assert sum(line.cost for line in shown) == priced.cost


# Out of houses


@pytest.fixture
def offered(organisation):
    """A house of 13 hoops of two sticks and 26 posts, and offers for its rail and post."""
    house = HouseFactory(site__organisation=organisation)
    supplier = SupplierFactory(organisation=organisation, name="Bristle Pipe (invented)", delivery_charge=D(85))
    OfferFactory(supplier=supplier, material=house.recipe.tube, price="14.60", pack=5)
    OfferFactory(supplier=supplier, material=house.post_material, length=FOOT * 21, price="36.40")
    return house


def counts() -> dict[str, int]:
    """Rows of every table but those of quotes, of what changed and of forms that were sent."""
    own = {"quotes", "history"}
    return {
        model._meta.label: model._base_manager.count()
        for model in apps.get_models()
        if model._meta.app_label not in own and model._meta.managed
    }


def test_a_house_is_priced_at_todays_offers_and_nothing_else_is_written(organisation, user, offered):
    _, _, option = begin(organisation, user)
    LotFactory(material=offered.recipe.tube, on_hand=10)
    before = counts()
    services.take_house(**who(organisation, user), option=option, house=offered)
    assert counts() == before
    rail, post, delivery = option.lines.filter(kind__in=["goods", "charge"])
    # 13 hoops x 2 sticks, and 5 % of 26 is 1.3: two more. Packs of five: 30 are bought.
    assert (rail.quantity, rail.price, rail.to_stock) == (28, D("14.60"), 2)
    assert rail.what.startswith(offered.recipe.tube.name)
    assert "2 sticks of them waste" in rail.source
    # 26 posts of 4 ft, five out of a stick of 21 ft.
    assert (post.quantity, post.price, post.to_stock) == (6, D("36.40"), 0)
    assert (delivery.quantity, delivery.price) == (1, 85)
    hours = {line.step: line.quantity for line in option.lines.filter(kind="hours")}
    # 26 posts x 10 + 30 minutes.
    assert hours["posts"] == D("4.83")
    assert option.lines.get(kind="equipment").quantity == 1
    # 30.41 hours of people, two on a trip, eight hours a day.
    assert sum(hours.values()) == D("30.41")
    assert option.lines.get(kind="trip").quantity == 2


def test_what_lies_in_the_yard_is_charged_at_replacement_price(organisation, user, offered):
    _, quote, option = begin(organisation, user)
    services.save_quote(**who(organisation, user), quote=quote, data={"yard": "replaced"})
    LotFactory(material=offered.recipe.tube, on_hand=40)
    services.take_house(**who(organisation, user), option=option, house=offered)
    rail = option.lines.get(material=offered.recipe.tube)
    assert (rail.quantity, rail.price, rail.to_stock) == (28, D("14.60"), 0)
    assert "28 from the yard at replacement price" in rail.source
    # Posts are still bought, so that one delivery comes.
    assert option.lines.filter(kind="charge").count() == 1
    LotFactory(material=offered.post_material, length=FOOT * 21, on_hand=6)
    services.price_option(**who(organisation, user), option=option)
    assert not option.lines.filter(kind="charge").exists()


def test_what_no_offer_gives_is_named_with_what_to_do(organisation, user, offered):
    offered.post_material.offers.all().delete()
    _, _, option = begin(organisation, user)
    services.take_house(**who(organisation, user), option=option, house=offered)
    option.refresh_from_db()
    assert option.lines.filter(kind="goods").count() == 1
    assert [row["what"] for row in option.unpriced] == [offered.post_material.name]
    assert "Suppliers" in option.unpriced[0]["do"]


def test_what_was_typed_stays_and_comes_back_on_request(organisation, user, offered):
    _, _, option = begin(organisation, user)
    services.take_house(**who(organisation, user), option=option, house=offered)
    rail = option.lines.get(material=offered.recipe.tube)
    services.save_line(
        **who(organisation, user), line=rail, data={"price": D(12), "quantity": D(30), "source": "phone"}
    )
    services.add_line(
        **who(organisation, user),
        option=option,
        data={"kind": "goods", "what": "Gravel", "quantity": D(3), "price": D(20)},
    )
    offered.recipe.tube.offers.get().breaks.update(unit_price=D("15.10"))
    services.price_option(**who(organisation, user), option=option)
    rail.refresh_from_db()
    assert (rail.quantity, rail.price, rail.worked_quantity, rail.worked_price) == (30, 12, 28, D("15.10"))
    assert (rail.typed_by, rail.source) == (user, "phone")
    assert rail.typed_at is not None
    assert option.lines.filter(what="Gravel", typed_by=user).exists()
    services.forget_typed(**who(organisation, user), line=rail)
    rail.refresh_from_db()
    assert (rail.quantity, rail.price, rail.typed_at) == (28, D("15.10"), None)


def test_a_line_left_out_is_in_no_sum(organisation, user, offered):
    _, _, option = begin(organisation, user)
    services.take_house(**who(organisation, user), option=option, house=offered)
    before = figures(option)[0]
    delivery = option.lines.get(kind="charge")
    services.save_line(**who(organisation, user), line=delivery, data={"left_out": True})
    assert figures(option)[0] == before - 85
    with pytest.raises(ValidationError, match="Leave it out"):
        services.remove_line(**who(organisation, user), line=delivery)


def test_an_option_made_from_another_is_told_apart_by_part_and_line(organisation, user, offered):
    _, quote, option = begin(organisation, user)
    services.take_house(**who(organisation, user), option=option, house=offered)
    longer = services.add_option(**who(organisation, user), quote=quote, name="Longer", like=option)
    house = longer.houses.get()
    assert longer.based_on == option
    data = _spec(house)
    services.save_house(
        **who(organisation, user), house=house, name="Longer house", quantity=2, data=data | {"length": FOOT * 72}
    )
    shown = options_shown(whole(quote))[1].unlike
    assert shown.total > 0
    assert sum(amount for _, amount in shown.parts) == shown.total
    assert sum(amount for *_, amount in shown.lines) == shown.total - dict(shown.parts)["Tax"]
    # Two houses of 19 hoops: 76 sticks and four for waste.
    assert longer.lines.get(material=offered.recipe.tube).quantity == 80
    assert option.lines.get(material=offered.recipe.tube).quantity == 28


def _spec(house):
    from farmbuild.quotes.pricing.specs import houses_from
    from farmbuild.sites.starters import values_like

    return values_like(houses_from([house], organisation=house.organisation)[0])


def test_rates_of_a_quote_are_its_own(organisation, user, offered):
    _, quote, option = begin(organisation, user)
    services.take_house(**who(organisation, user), option=option, house=offered)
    services.save_rates(**who(organisation, user), data={"labour": D(50), "trip": D(99)})
    quote.refresh_from_db()
    assert quote.labour == RATES["labour"]
    services.save_quote(**who(organisation, user), quote=quote, data={"trip": D(30), "waste": D(0)})
    assert option.lines.get(kind="trip").price == 30
    assert option.lines.get(material=offered.recipe.tube).quantity == 26


# What is refused


def test_bad_rates_are_refused_at_the_field(organisation, user):
    _, quote, option = begin(organisation, user)
    for name, value, words in (("margin", D(100), "less than 100"), ("labour", D(-1), "0 or more")):
        with pytest.raises(ValidationError) as refused:
            services.save_quote(**who(organisation, user), quote=quote, data={name: value})
        assert words in " ".join(refused.value.message_dict[name])
        quote.refresh_from_db()
        assert getattr(quote, name) == RATES[name]
    data = {"kind": "hours", "what": "Door", "quantity": D(-1)}
    with pytest.raises(ValidationError) as refused:
        services.add_line(**who(organisation, user), option=option, data=data)
    assert refused.value.message_dict["quantity"] == ["Type 0 or more."]
    assert not QuoteLine.objects.exists()


def test_an_option_without_a_house_is_not_worked_out(organisation, user):
    _, _, option = begin(organisation, user)
    with pytest.raises(ValidationError, match=str(NO_HOUSE)):
        services.price_option(**who(organisation, user), option=option)


def test_ten_options_at_most_and_no_name_twice(organisation, user):
    _, quote, _ = begin(organisation, user)
    with pytest.raises(ValidationError, match="Another option"):
        services.add_option(**who(organisation, user), quote=quote, name="option 1")
    for number in range(2, MAX_OPTIONS + 1):
        services.add_option(**who(organisation, user), quote=quote, name=f"Option {number}")
    with pytest.raises(ValidationError, match="up to 10"):
        services.add_option(**who(organisation, user), quote=quote, name="One more")
    services.remove_option(**who(organisation, user), option=quote.options.get(position=4))
    assert services.add_option(**who(organisation, user), quote=quote, name="One more").position == 4


def test_the_currency_stays_once_something_is_quoted(organisation, user):
    from farmbuild.orgs.currency import why_fixed

    assert not why_fixed(organisation)
    begin(organisation, user)
    assert "1 quote" in why_fixed(organisation)
    Organisation.objects.filter(pk=organisation.pk).update(currency="EUR")
    with pytest.raises(ValidationError, match="EUR"):
        services.save_rates(organisation=organisation, user=user, data={"labour": D(1)})


def test_no_quote_before_rates_and_none_for_a_lost_job(organisation, user):
    from farmbuild.quotes.jobs.services import lose_job, open_again
    from farmbuild.quotes.models import QuoteRates

    job, _, option = begin(organisation, user)
    lose_job(**who(organisation, user), job=job, because="too dear")
    with pytest.raises(ValidationError, match="lost"):
        services.create_quote(**who(organisation, user), job=job)
    with pytest.raises(ValidationError, match="lost"):
        services.rename_option(**who(organisation, user), option=option, name="Other")
    open_again(**who(organisation, user), job=job)
    QuoteRates.objects.all().delete()
    with pytest.raises(ValidationError, match="rates"):
        services.create_quote(**who(organisation, user), job=job)
    assert Quote.objects.count() == 1
