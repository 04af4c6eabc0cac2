"""Quotes, differences by cause, stages and progress: worked by hand, and by fractions in other words."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from farmbuild.measure import places, share_out
from farmbuild.planning.pricing.differences import Cause, Line, differences
from farmbuild.planning.pricing.progress import progress, stages
from farmbuild.planning.pricing.quote import Goods, Hours, Kind, QuoteError, Rates, Use, price, with_waste
from tests.size import examples

D = Decimal
RATES = Rates(
    labour=D("31.20"),
    overhead=D("11.50"),
    contingency=D(4),
    margin=D(18),
    waste=D(5),
    tax={Kind.MATERIALS: D("6.25")},
)


def house(hoops, pipe, rail, film, channel, screws, anchors, hours, days, trips):
    sticks = with_waste(hoops, RATES.waste)
    goods = [
        Goods("rail 10'", D(sticks), D("13.40") if sticks >= 50 else D("14.60")),
        Goods("pipe 21'", D(pipe), D("36.40")),
        Goods("rail 21'", D(rail), D("29.90")),
        Goods("film", D(film), D(298)),
        Goods("channel", D(channel), D("11.25")),
        Goods("screws", D(screws), D("0.07")),
        Goods("anchors", D(anchors), D("9.75")),
        Goods("delivery", D(1), D(85)),
    ]
    uses = [Use("bender", D(days), D(18)), Use("trip", D(trips), D("27.28"))]
    return price(RATES, goods, [Hours("all", D(hours))], uses, "USD")


QUOTES = {
    "48'": house(39, 6, 9, 1, 12, 150, 8, "64.50", 2, 6),
    "72'": house(57, 8, 12, 1, 18, 210, 8, "88.25", 3, 8),
    "48' at 3'": house(51, 7, 9, 1, 12, 190, 8, "76", 2, 7),
    "door": price(
        RATES, [Goods("2x4", D(4), D("7.60")), Goods("set", D(1), D("41.50"))], [Hours("door", D("3.25"))], [], "USD"
    ),
}
#: Materials, labour, overhead, equipment; cost, contingency; prices of the three kinds; before tax, tax, total. Each
#: worked out twice by hand, by decimals and by fractions.
FIGURES = {
    "48'": "1692.60 2012.40 741.75 199.68 4646.43 185.86 2146.71 3493.07 253.26 5893.04 134.17 6027.21",
    "72'": "2132.20 2753.40 1014.88 272.24 6172.72 246.91 2704.26 4779.28 345.28 7828.82 169.02 7997.84",
    "48' at 3'": "1856.80 2371.20 874.00 226.96 5328.96 213.16 2354.96 4115.87 287.85 6758.68 147.19 6905.87",
    "door": "71.90 101.40 37.38 0 210.68 8.43 91.20 176.01 0 267.21 5.70 272.91",
}


@pytest.mark.parametrize("name", QUOTES)
def test_a_quote_to_the_cent(name):
    quote = QUOTES[name]
    prices = [quote.part(kind).price for kind in Kind]
    found = [
        quote.part(Kind.MATERIALS).cost,
        quote.labour,
        quote.overhead,
        quote.part(Kind.EQUIPMENT).cost,
        quote.cost,
        quote.contingency,
        *prices,
        quote.before_tax,
        quote.tax,
        quote.total,
    ]
    assert found == [D(figure) for figure in FIGURES[name].split()]
    assert sum(quote.goods) + quote.labour + quote.overhead + sum(quote.uses) == quote.cost


def test_waste_is_rounded_up_to_whole_pieces():
    assert [with_waste(pieces, D(5)) for pieces in (0, 1, 20, 39, 51, 57)] == [0, 2, 21, 41, 54, 60]
    assert with_waste(40, D(0)) == 40
    for pieces, percent in ((-1, D(5)), (1, D("-0.01"))):
        with pytest.raises(QuoteError):
            with_waste(pieces, percent)


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"margin": D(100)}, "margin"),
        ({"margin": D("-0.01")}, "margin"),
        ({"labour": D("-0.01")}, "labour"),
        ({"overhead": D("-0.01")}, "overhead"),
        ({"contingency": D("-0.1")}, "contingency"),
        ({"waste": D("-0.01")}, "waste"),
        ({"tax": {Kind.MATERIALS: D(5), Kind.WORK: D("-0.01")}}, "tax"),
    ],
)
def test_figures_that_no_quote_has(changed, field):
    given_ = {"labour": D(1), "overhead": D(1)} | changed
    with pytest.raises(QuoteError) as told:
        Rates(**given_)
    assert told.value.field == field


def test_negative_rows_are_named():
    rates = Rates(D(1), D(1))
    for rows, name in (
        (([Goods("rail", D("-0.01"), D(1))], [], []), "rail"),
        (([Goods("pipe", D(1), D("-0.01"))], [], []), "pipe"),
        (([], [Hours("film", D("-0.01"))], []), "film"),
        (([], [], [Use("bender", D(1), D("-0.01"))]), "bender"),
        (([], [], [Use("trip", D("-0.01"), D(1))]), "trip"),
    ):
        with pytest.raises(QuoteError, match=name):
            price(rates, *rows, "USD")
        if name in ("rail", "film", "trip"):
            assert price(rates, *rows, "USD", change=True).total <= 0
        else:
            with pytest.raises(QuoteError, match=name):
                price(rates, *rows, "USD", change=True)
    assert (
        price(Rates(D(0), D(0)), [Goods("x", D(0), D(0))], [Hours("y", D(0))], [Use("z", D(0), D(0))], "USD").total == 0
    )


def half_up(value: Fraction, currency: str) -> Fraction:
    """By whole numbers alone, so in other words than the module's."""
    scale = 10 ** places(currency)
    return Fraction((2 * value * scale + 1).__floor__() // 2, scale)


amounts = st.decimals(0, 5000, places=2)
percents = st.decimals(0, 99, places=2)


@given(
    st.lists(st.tuples(amounts, amounts), max_size=4),
    amounts,
    amounts,
    percents,
    percents,
    st.sampled_from(["USD", "JPY", "KWD"]),
)
def test_a_quote_is_what_fractions_say_in_every_currency(rows, hours, rate, margin, tax, currency):
    rates = Rates(rate, D("11.5"), D(4), margin, tax={Kind.MATERIALS: tax, Kind.WORK: D(3)})
    quote = price(rates, [Goods("x", q, p) for q, p in rows], [Hours("y", hours)], [], currency)
    materials = sum((half_up(Fraction(q) * Fraction(p), currency) for q, p in rows), Fraction(0))
    work = half_up(Fraction(hours) * Fraction(rate), currency) + half_up(Fraction(hours) * Fraction(23, 2), currency)
    totals = Fraction(0)
    for cost, percent in ((materials, tax), (work, D(3))):
        with_contingency = cost + half_up(cost * 4 / 100, currency)
        offered = half_up(with_contingency / (1 - Fraction(margin) / 100), currency)
        totals += offered + half_up(offered * Fraction(percent) / 100, currency)
    assert Fraction(quote.total) == totals


MATERIALS = [
    Line("rail", D(41), D(42), D("14.60"), D("590.20")),
    Line("film", D(1), D(1), D(298), D("311.25")),
    Line("2x6 16'", D(7), D(0), D("16.55"), D(0)),
    Line("2x6 12'", D(0), D(10), D("12.20"), D("126.50")),
    Line("screws", D(150), D(163), D("0.07"), D("10.68")),
    Line("delivery", D(1), D(1), D(85), D("97.40")),
    Line("2x4", D(4), D(5), D("7.60"), D("39.75"), changed=True),
    Line("door set", D(1), D(1), D("41.50"), D("41.50"), changed=True),
]
WORK = [
    Line("set", D(26), D(29), D("31.20"), D("924.38")),
    Line("film", D("9.25"), D(8), D("31.20"), D(232)),
    Line("rework", D(0), D("3.25"), D("31.20"), D("112.94")),
    Line("door", D("3.25"), D(4), D("31.20"), D(116), changed=True),
]
EQUIPMENT = [Line("bender", D(2), D(3), D(18), D(54))]


def test_differences_by_cause_to_the_cent():
    found = differences(MATERIALS, WORK, EQUIPMENT, overhead=D("11.50"), currency="USD")
    assert (found.quoted, found.actual) == (D("2649.13"), D("3165.48"))
    assert found.by_cause == {
        Cause.CHANGE_ORDER: D("210.68"),
        Cause.MATERIAL_PRICE: D("8.17"),
        Cause.MATERIAL_QUANTITY: D("29.26"),
        Cause.HOURS: D("179.40"),
        Cause.RATE: D("4.72"),
        Cause.OVERHEAD: D("66.12"),
        Cause.EQUIPMENT: D("18.00"),
    }
    assert sum(found.by_cause.values()) == D("516.35") == found.actual - found.quoted
    assert found.materials[0] == (D("14.60"), D("-23.00"))
    assert found.materials[3:5] == ((D("122.00"), D("4.50")), (D("0.91"), D("-0.73")))
    assert found.work == (
        (D("93.60"), D("19.58")),
        (D("-39.00"), D("-17.60")),
        (D("101.40"), D("11.54")),
        (D("23.40"), D("-8.80")),
    )


lines = st.builds(
    Line,
    st.just("x"),
    st.decimals(0, 500, places=2),
    st.decimals(0, 500, places=2),
    amounts,
    st.integers(0, 10**6).map(D),
    st.booleans(),
)


@given(
    st.lists(lines, max_size=5),
    st.lists(lines, max_size=4),
    st.lists(lines, max_size=2),
    amounts,
    st.sampled_from(["USD", "JPY", "KWD"]),
)
def test_causes_add_up_to_the_whole_difference(materials, work, equipment, overhead, currency):
    found = differences(materials, work, equipment, overhead=overhead, currency=currency)
    assert sum(found.by_cause.values()) == found.actual - found.quoted


@pytest.mark.parametrize("figure", ["quoted", "used", "standard", "paid"])
def test_a_line_below_zero_is_no_line(figure):
    line = Line(**({"name": "x", "quoted": D(0), "used": D(0), "standard": D(0), "paid": D(0)} | {figure: D("-0.01")}))
    for rows in (([line], [], []), ([], [line], []), ([], [], [line])):
        with pytest.raises(ValueError, match="0 or more"):
            differences(*rows, overhead=D(0), currency="USD")
        # What is left of more than one may be below 0, but for a price.
        if figure == "standard":
            with pytest.raises(ValueError, match="0 or more"):
                differences(*rows, overhead=D(0), currency="USD", net=True)
        else:
            assert differences(*rows, overhead=D(0), currency="USD", net=True).actual == line.paid
    with pytest.raises(ValueError, match="0 or more"):
        differences([], [], [], overhead=D("-0.01"), currency="USD")


def test_progress_and_stages_to_the_cent():
    bills = stages(D("6160.25"), [D(30), D(40), D(30)], D(5), "USD")
    assert [bill.billed for bill in bills] == [D("1848.08"), D("2464.10"), D("1848.07")]
    two = bills[:2]
    billed, kept, due = (sum(getattr(bill, name) for bill in two) for name in ("billed", "kept", "due"))
    assert (billed, kept, due) == (D("4312.18"), D("215.61"), D("4096.57"))
    now = progress(contract=D("6160.25"), cost=D("3165.48"), to_come=D("1934.52"), billed=billed, currency="USD")
    assert (now.at_completion, now.earned, now.overbilled, now.profit) == (
        D("5100.00"),
        D("3823.56"),
        D("488.62"),
        D("1060.25"),
    )
    assert round(float(now.part) * 100, 2) == 62.07


def test_a_job_that_costs_nothing_yet_has_earned_nothing():
    now = progress(contract=D(100), cost=D(0), to_come=D(0), billed=D(30), currency="USD")
    assert (now.part, now.earned, now.overbilled) == (0, 0, 30)


@examples(60)
@given(
    st.integers(0, 10**7),
    st.lists(st.integers(1, 100), min_size=1, max_size=7),
    percents,
    st.sampled_from(["USD", "JPY", "KWD"]),
)
def test_stages_make_the_contract_and_none_is_below_zero(coins, weights, retention, currency):
    contract = D(coins).scaleb(-places(currency))
    whole = sum(weights)
    parts = [D(100 * weight // whole) for weight in weights]
    parts = [part or D(1) for part in parts]
    parts[-1] += 100 - sum(parts)
    assume(parts[-1] > 0)
    bills = stages(contract, parts, retention, currency)
    assert sum(bill.billed for bill in bills) == contract
    assert all(bill.billed >= 0 and bill.kept >= 0 for bill in bills)
    so_far = kept = Fraction(0)
    for bill, part in zip(bills[:-1], parts, strict=False):
        assert Fraction(bill.billed) == min(
            Fraction(contract) - so_far, half_up(Fraction(contract) * Fraction(part) / 100, currency)
        )
        so_far += Fraction(bill.billed)
        kept += Fraction(bill.kept)
        assert kept == half_up(so_far * Fraction(retention) / 100, currency)


@pytest.mark.parametrize(("contract", "retention"), [("-0.01", "5"), ("100", "-0.01"), ("100", "100")])
def test_stages_of_no_contract(contract, retention):
    with pytest.raises(ValueError, match="0 "):
        stages(D(contract), [D(100)], D(retention), "USD")
    assert [bill.due for bill in stages(D(100), [D(100)], D("99.99"), "USD")] == [D("0.01")]
    assert stages(D(0), [D(100)], D(0), "USD")[0].billed == 0


@given(st.integers(0, 9999), st.integers(0, 9999), st.integers(0, 9999), st.integers(0, 9999))
def test_earned_is_the_part_that_the_cost_is_of_the_whole(contract, cost, to_come, billed):
    amounts = {"contract": contract, "cost": cost, "to_come": to_come, "billed": billed}
    now = progress(**{name: D(coins) / 100 for name, coins in amounts.items()}, currency="USD")
    part = Fraction(cost, cost + to_come) if cost + to_come else Fraction(0)
    assert now.part == part
    assert Fraction(now.earned) == half_up(Fraction(contract, 100) * part, "USD")
    assert now.overbilled == D(billed) / 100 - now.earned
    assert now.at_completion == D(cost + to_come) / 100
    assert now.profit == D(contract - cost - to_come) / 100


@pytest.mark.parametrize("wrong", ["contract", "cost", "to_come", "billed"])
def test_progress_of_amounts_below_nothing(wrong):
    amounts = dict.fromkeys(("contract", "cost", "to_come", "billed"), D(1)) | {wrong: D("-0.01")}
    with pytest.raises(ValueError, match="0 or more"):
        progress(**amounts, currency="USD")


@pytest.mark.parametrize("wrong", [[], [D(50)], [D(60), D(60)], [D(110), D(-10)], [D(0), D(100)]])
def test_stages_that_make_no_whole(wrong):
    with pytest.raises(ValueError, match="make 100"):
        stages(D(100), wrong, D(5), "USD")


def test_a_delivery_shared_by_value_to_the_cent():
    goods = [D(v) for v in ("1071.00", "459.00", "595.00", "293.25", "412.25", "318.75", "178.50")]
    shares = share_out(D("85.00"), goods, "USD")
    assert shares == [D(v) for v in ("27.36", "11.72", "15.20", "7.49", "10.53", "8.14", "4.56")]
    assert sum(shares) == D("85.00")


def test_ties_go_to_the_first_listed_and_nothing_to_share_by_is_shared_equally():
    assert share_out(D("0.05"), [D(1), D(1), D(1)], "USD") == [D("0.02"), D("0.02"), D("0.01")]
    assert share_out(D("-0.05"), [D(0), D(0)], "USD") == [D("-0.03"), D("-0.02")]
    assert share_out(D(10), [D(1), D(2)], "JPY") == [3, 7]
    for wrong in ([], [D(1), D(-1)]):
        with pytest.raises(ValueError, match="none of them below 0"):
            share_out(D(1), wrong, "USD")
    with pytest.raises(ValueError, match="whole number of coins"):
        share_out(D("0.001"), [D(1)], "USD")


@given(st.integers(-(10**7), 10**7), st.lists(st.decimals(0, 10**6, places=3), min_size=1, max_size=8))
def test_shares_add_up_and_none_is_a_coin_away_from_its_part(coins, by):
    amount = D(coins).scaleb(-2)
    shares = share_out(amount, by, "USD")
    assert sum(shares) == amount
    total = Fraction(sum(by)) or Fraction(len(by))
    for share, part in zip(shares, by if any(by) else [D(1)] * len(by), strict=True):
        assert abs(Fraction(share) - Fraction(amount) * Fraction(part) / total) < Fraction(1, 100)


def test_a_change_takes_away_what_was_charged_for_it():
    given_ = [Goods("2x4", D(-4), D("7.60")), Goods("set", D(-1), D("41.50"))], [Hours("door", D("-3.25"))], []
    less = price(RATES, *given_, "USD", change=True)
    assert [less.cost, less.contingency, less.before_tax, less.tax, less.total] == [
        D(figure) for figure in ["-210.68", "-8.43", "-267.21", "-5.70", "-272.91"]
    ]
    with pytest.raises(QuoteError):
        price(RATES, [Goods("2x4", D(-4), D("-7.60"))], [], [], "USD", change=True)
