"""What the pages say is what the planner said, rearranged: nothing is lost or counted twice on the way."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from farmbuild.catalogue.models import Offer
from farmbuild.plans import bridge, coverage, cut_bundles, leftover_rows, services, summary

pytestmark = pytest.mark.django_db


@pytest.fixture
def snapshot(ready):
    return bridge.season_of(ready), bridge.season_plan_of(ready)


class TestCoverage:
    def test_every_row_is_covered_exactly(self, snapshot):
        season, plan = snapshot
        needs = coverage.needs_of(season, plan)
        assert [need.row for need in needs] == [row for row in plan.takeoff if row.quantity]
        for need in needs:
            assert sum(source.quantity for source in need.sources) == need.row.quantity, need.row
            assert all(source.quantity > 0 for source in need.sources)

    def test_what_comes_from_the_yard_is_what_the_plan_takes_there(self, snapshot):
        season, plan = snapshot
        taken = sum(given.quantity for given in plan.allocations)
        cut = sum(layout.times * len(layout.pieces) for layout in plan.layouts if layout.lot)
        assert coverage.figures_of(coverage.needs_of(season, plan)).from_yard == taken + cut > 20

    def test_what_cannot_be_had_is_missing_and_not_bought(self, season, user):
        Offer.objects.filter(material__code="screw").delete()
        plan = services.create_plan(**season.ask(user)).plan
        services.work_out_plan(plan.pk)
        plan.refresh_from_db()
        result = bridge.season_plan_of(plan)
        figures = coverage.figures_of(coverage.needs_of(bridge.season_of(plan), result))
        assert figures.missing == sum(gap.quantity for gap in result.unmet) > 0
        assert figures.quantity == figures.from_yard + figures.to_buy + figures.missing

    def test_houses_and_materials_sum_to_the_same(self, snapshot):
        season, plan = snapshot
        needs = coverage.needs_of(season, plan)
        whole = coverage.figures_of(needs)
        houses = coverage.houses_of(season, needs)
        totals = coverage.totals_of(needs)
        for name in ("quantity", "from_yard", "to_buy", "missing"):
            assert sum(getattr(house.figures, name) for house in houses) == getattr(whole, name)
            assert sum(getattr(total, name) for total in totals) == getattr(whole, name)
        assert [house.ref for house in houses] == ["north-1", "creek-1"]

    def test_one_house_alone_reads_as_it_does_among_all(self, snapshot):
        season, plan = snapshot
        every = [need for need in coverage.needs_of(season, plan) if need.row.house == "creek-1"]
        assert coverage.needs_of(season, plan, house="creek-1") == every


class TestSawing:
    def test_every_stick_and_piece_is_drawn(self, snapshot):
        season, plan = snapshot
        bundles = cut_bundles.bundles_of(season, plan)
        drawn = Counter()
        for bundle in bundles:
            for share in bundle.shares:
                for run in share.runs:
                    key = (bundle.material.code, run.house, run.purpose, run.length)
                    drawn[key] += run.quantity * share.times
        names = {house.ref: house.name for house in season.houses}
        planned = Counter()
        for layout in plan.layouts:
            for piece in layout.pieces:
                planned[layout.material, names[piece.house], piece.purpose, piece.length] += layout.times
        assert drawn == planned
        assert sum(bundle.times for bundle in bundles) == sum(layout.times for layout in plan.layouts)
        assert [bundle.number for bundle in bundles] == list(range(1, len(bundles) + 1))

    def test_marks_count_the_saw_cuts_before_them(self, snapshot):
        season, plan = snapshot
        kerf = Decimal("3.175")
        several = [bundle for bundle in cut_bundles.bundles_of(season, plan) if len(bundle.cuts) > 2]
        assert several
        for bundle in several:
            for before, cut in zip(bundle.cuts, bundle.cuts[1:], strict=False):
                assert cut.start - before.end == kerf
            last = bundle.cuts[-1]
            assert last.end == sum(cut.length for cut in bundle.cuts) + kerf * (len(bundle.cuts) - 1)
            assert 0 <= bundle.remainder_start - last.end <= kerf

    def test_many_sets_of_houses_make_more_drawings_of_the_same_stick(self, snapshot):
        season, plan = snapshot
        layout = plan.layouts[0]
        many = 2 * cut_bundles.MAX_SHARES + 1
        crowded = replace(plan, layouts=(layout,) * many)
        bundles = cut_bundles.bundles_of(season, crowded)
        assert [len(bundle.shares) for bundle in bundles] == [cut_bundles.MAX_SHARES, cut_bundles.MAX_SHARES, 1]
        assert sum(bundle.times for bundle in bundles) == many * layout.times

    def test_a_stick_that_is_its_own_piece_is_not_sawn(self, snapshot):
        season, plan = snapshot
        layout = next(layout for layout in plan.layouts if len(layout.pieces) > 1)
        piece = replace(layout.pieces[0], length=layout.stick_length)
        whole = replace(layout, pieces=(piece,), remainder=Decimal(0), times=3)
        figures = cut_bundles.figures_of(replace(plan, layouts=(whole, layout)))
        assert (figures.uncut, figures.sticks) == (3, layout.times)
        (first, second) = cut_bundles.bundles_of(season, replace(plan, layouts=(whole, layout)))
        assert (first.uncut, second.uncut) == (False, True)

    def test_beyond_the_boxes_there_is_a_count(self, snapshot):
        season, plan = snapshot
        layout = replace(plan.layouts[0], times=cut_bundles.MAX_TICKS + 5)
        (share,) = cut_bundles.bundles_of(season, replace(plan, layouts=(layout,)))[0].shares
        assert len(share.ticks) == cut_bundles.MAX_TICKS
        assert share.uncounted


class TestSummary:
    def test_the_answer_adds_the_orders_up(self, snapshot):
        season, plan = snapshot
        answer = summary.answer_of(season, plan, today=date(2027, 3, 1))
        assert answer.orders == len(plan.orders)
        assert answer.total == sum(order.total for order in plan.orders)
        assert answer.order_by == min(order.order_by for order in plan.orders)
        assert answer.more + 1 == len({gap.material for gap in plan.shortfalls})
        assert not answer.overdue
        assert summary.answer_of(season, plan, today=date(2027, 6, 1)).overdue

    def test_shorts_are_the_shortfalls_by_material(self, snapshot):
        season, plan = snapshot
        for short in summary.shorts_of(season, plan):
            rows = [gap for gap in plan.shortfalls if gap.material == short.material.code]
            assert short.quantity == sum(gap.quantity for gap in rows)
        assert sum(row.quantity for row in summary.short_rows(season, plan)) == sum(
            gap.quantity for gap in plan.shortfalls
        )

    def test_everything_short_is_ordered_from_someone(self, snapshot):
        assert all(row.supplier for row in summary.short_rows(*snapshot))

    @pytest.mark.parametrize(
        ("cost", "bound", "percent"), [("100", "99.999", "0.01"), ("100", "98", "2.00"), ("0", "0", "0")]
    )
    def test_a_gap_is_never_shown_smaller_than_it_is(self, cost, bound, percent):
        proof = summary.Proof("x", Decimal(cost), Decimal(bound), optimal=False)
        assert proof.percent == Decimal(percent)


class TestLeaving:
    def test_values_sum_to_the_plans(self, snapshot):
        season, plan = snapshot
        rows = leftover_rows.rows_of(season, plan)
        assert sum(row.value for row in rows) == plan.leftover_value > 0
        assert sum(row.quantity for row in rows) == sum(row.quantity for row in plan.leftovers)

    def test_everything_is_somewhere(self, snapshot):
        rows = leftover_rows.balances_of(*snapshot)
        assert rows
        for row in rows:
            b = row.balance
            assert b.stock + b.bought == b.used + b.kerf + b.leftover + b.scrap, row.material
