"""What a plan says is proven best, against every way to buy and cut a few pieces."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from farmbuild.planning.season.plan import plan_season
from farmbuild.workbooks.project import project_template, read_project
from tests.outside.books import fill
from tests.outside.brute import least_cost
from tests.outside.headings import HEADINGS
from tests.outside.houses import FEET_TUNNEL, PROJECTS
from tests.outside.typed import INCH
from tests.size import examples

TEMPLATE = project_template()
BASE = PROJECTS["feet"]


@st.composite
def small_markets(draw):
    """Braces of two lengths out of sticks of two, with price breaks, packs, and delivery that may be free."""
    braces = [(draw(st.integers(20, 70)), draw(st.integers(1, 4))) for _ in range(2)]
    lengths = draw(st.lists(st.integers(72, 150), min_size=2, max_size=2, unique=True))
    offers = {}
    for n, inches in enumerate(lengths):
        first = draw(st.integers(500, 2000))
        then = draw(st.integers(first // 2, first))
        offers[f"o{n}"] = {
            "supplier": "pipe",
            "material": "2x4",
            "length": f'{inches}"',
            "pack": str(draw(st.sampled_from([1, 1, 2, 3]))),
            "lead_days": "5",
            "from_1": "1",
            "price_1": f"{first / 100:.2f}",
            "from_2": str(draw(st.integers(2, 6))),
            "price_2": f"{then / 100:.2f}",
        }
    free = draw(st.sampled_from(["", "60", "90"]))
    return braces, lengths, offers, {"name": "Pipe", "delivery_charge": "12.5", "free_delivery_from": free}


def test_proven_best_is_best() -> None:
    tried: list[bool] = []

    @settings(examples(15), phases=[Phase.explicit, Phase.generate])
    @given(small_markets())
    def try_market(market) -> None:
        tried.append(proven(market))

    try_market()
    assert sum(tried) > len(tried) / 2, "most of so few pieces are proven"


def proven(market) -> bool:
    """Whether the plan says so; what it says is held against all ways."""
    braces, lengths, offers, supplier = market
    houses = {
        f"h{n}": FEET_TUNNEL | {"brace_material": "2x4", "brace_count": str(count), "brace_length": f'{inches}"'}
        for n, (inches, count) in enumerate(braces)
    }
    for house in houses.values():
        del house["film_material"], house["film_layers"], house["film_side_allowance"], house["film_end_allowance"]
    project = replace(BASE, houses=houses, offers=offers, stock={}, own={}, suppliers={"pipe": supplier})
    plan = plan_season(read_project(fill(project, TEMPLATE, HEADINGS), "small.xlsx"))
    pieces = [inches * INCH for inches, _ in braces]
    best = least_cost(
        [(offers[f"o{n}"], inches * INCH) for n, inches in enumerate(lengths)],
        tuple(count for _, count in braces),
        pieces,
        INCH / 8,
        supplier,
        more=8,
    )
    cost = sum((order.goods + order.delivery for order in plan.orders), Decimal(0))
    assert {row.material for row in plan.unmet} == {"emt"}, "nobody sells the hoops"
    assert plan.together.bound <= best <= cost, (best, cost, plan.together)
    if plan.together.optimal:
        assert cost == best, (best, plan.together)
    assert plan.together.cost == cost
    return plan.together.optimal
