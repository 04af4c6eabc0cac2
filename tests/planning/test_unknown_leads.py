"""A lead time that nobody has said: neither zero nor a reason to leave an offer out, and always said by name."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from farmbuild.planning.buying.model import best_offers
from farmbuild.planning.buying.reasons import reasons, slips, told
from farmbuild.planning.buying.sums import LineDays, order_by
from farmbuild.planning.netting.market import Market
from farmbuild.planning.season.availability import Way, last_order
from tests.planning.seasons import AS_OF, offer
from tests.planning.test_buying import BOLT, bought, day, need, supplier


def silent(*args, **more):
    return replace(offer(*args, **more), lead_days=None)


def test_known_and_late_is_not_shut_out_by_what_is_not_known() -> None:
    """As zero days the dear one would be the only one in time."""
    offers = [offer("known", "bolt", None, {1: "1.00"}, lead=20), silent("unsaid", "bolt", None, {1: "9.00"})]
    market = Market.of(offers, AS_OF)
    choice = best_offers({BOLT: {day(10): 5}}, market, [supplier("known"), supplier("unsaid")], places=2, effort=1)
    assert [found.supplier for found in choice.offers] == ["known"]
    assert {found.supplier for found in market.in_time(BOLT, day(10))} == {"known", "unsaid"}


def test_not_known_serves_any_day_and_goes_out_at_once() -> None:
    found = bought([need(5, by=10)], [silent("unsaid", "bolt", None, {1: "1.00"})], [supplier("unsaid")])
    (order,) = found.orders
    assert (order.order_by, order.lines[0].late_days, order.lines[0].need_by) == (AS_OF, 0, day(10))


def test_a_stated_zero_is_zero() -> None:
    found = bought([need(5, by=10)], [offer("shop", "bolt", None, {1: "1.00"}, lead=0)], [supplier("shop")])
    assert found.orders[0].order_by == day(10)


def test_order_by_of_both() -> None:
    known = LineDays(date(2027, 5, 20), 6)
    assert order_by([known], date(2027, 3, 1)) == date(2027, 5, 14)
    assert order_by([known, LineDays(date(2027, 5, 20))], date(2027, 3, 1)) == date(2027, 3, 1)


def test_reasons_say_it() -> None:
    offers = [silent("unsaid", "bolt", None, {1: "1.00"}), offer("known", "bolt", None, {1: "2.00"}, lead=3)]
    suppliers = [supplier("known"), supplier("unsaid")]
    (reason,) = reasons({BOLT: {day(10): 5}}, offers, suppliers, AS_OF, {offers[0].ref: 5}, places=2)
    said = told(reason, {}, str)
    assert said.startswith("unsaid: 5, lead time not known (first need")
    assert "Next best: known" in said and "lead time not known." in said and "the same day" not in said


def test_nothing_slips_for_sure_while_one_may_come() -> None:
    late, unsaid = offer("late", "bolt", None, {1: "1"}, lead=20), silent("unsaid", "bolt", None, {1: "1"})
    assert slips({BOLT: {day(10): 1}}, Market.of([late], AS_OF)) == {BOLT: {day(10): 10}}
    assert slips({BOLT: {day(10): 1}}, Market.of([late, unsaid], AS_OF)) == {}


def test_last_day_to_order() -> None:
    needed = AS_OF + timedelta(days=30)
    told = last_order(needed, [Way("b", None), Way("a", 10)], today=AS_OF)
    assert (told.day, told.supplier, told.lead_days) == (AS_OF + timedelta(days=20), "a", 10)
    told = last_order(needed, [Way("b", None), Way("a", None)], today=AS_OF)
    assert (told.day, told.supplier, told.lead_days, told.days_late) == (AS_OF, "a", None, 0)
