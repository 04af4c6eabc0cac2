"""What is left when every house stands, what it is worth and where it lies: worked by hand, row by row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from farmbuild.planning.inputs import Lot
from farmbuild.planning.netting.cuts import CutResult
from farmbuild.planning.netting.plan import Need, Netting
from farmbuild.planning.netting.yard import Yard
from farmbuild.planning.results import (
    Allocation,
    Balance,
    CutLayout,
    CutPiece,
    CutPlanSummary,
    Leftover,
    Order,
    OrderLine,
    TakeoffRow,
    Unmet,
)
from farmbuild.planning.season.leftovers import Remains, remains
from tests.planning.seasons import BY_CODE, TWELVE, house

ZERO = Decimal(0)
POST, RAIL = "rail-1-5-8", "rail-1-3-8"
DAY = date(2027, 4, 1)
#: Sticks of 3 m and a saw cut of 3 mm, so that the sums stay short.
STICK, KERF = Decimal(3000), Decimal(3)


def line(material: str, needed: int, quantity: int, price: str, length: Decimal | None = STICK) -> OrderLine:
    unit = Decimal(price)
    total = (unit * quantity).quantize(Decimal("0.01"))
    return OrderLine("o", "", material, material, length, needed, 1, quantity, quantity, unit, total, ZERO, DAY, 0)


def order(*lines: OrderLine) -> Order:
    return Order("pipe", "creek", lines, ZERO, ZERO, ZERO, ZERO, DAY, DAY, None)


def layout(lot: str, times: int, *pieces: int, remainder: int) -> CutLayout:
    cut = tuple(CutPiece(Decimal(n), "a", "ground posts") for n in pieces)
    return CutLayout(POST, lot, "rack" if lot else "", STICK, cut, times, Decimal(remainder), DAY)


def left(
    *,
    lots: tuple[Lot, ...] = (),
    taken: dict[str, int] | None = None,
    netting: Netting | None = None,
    orders: tuple[Order, ...] = (),
    takeoff: tuple[TakeoffRow, ...] = (),
    keep_from: str = "600",
) -> Remains:
    yard = Yard(lots)
    for ref, count in (taken or {}).items():
        yard.remove(ref, count)
    return remains(
        takeoff,
        {"a": house("a", TWELVE, site="north")},
        BY_CODE,
        yard,
        netting or Netting(),
        orders,
        delivery_site="creek",
        currency="USD",
        kerf=KERF,
        keep_from=Decimal(keep_from),
    )


def netted(
    *,
    layouts: Sequence[CutLayout] = (),
    needs: Sequence[Need] = (),
    unmet: Sequence[Unmet] = (),
    allocations: Sequence[Allocation] = (),
) -> Netting:
    summary = CutPlanSummary(POST, KERF, ZERO, ZERO, True, "")
    cuts = {POST: CutResult(list(layouts), summary, [], ())}
    return Netting(allocations=list(allocations), whole=list(needs), whole_unmet=list(unmet), cuts=cuts)


def balance(found: Remains) -> Balance:
    (only,) = found.balances
    assert only.stock + only.bought == only.used + only.kerf + only.leftover + only.scrap
    return only


@pytest.mark.parametrize(("keep_from", "kept"), [("994", True), ("994.000001", False), ("0", True)])
def test_an_end_of_the_length_to_keep_goes_back_and_a_shorter_one_is_scrap(keep_from: str, kept: bool) -> None:
    """Two of 1 m and two cuts of 3 mm leave 994 mm of each of 3 sticks at 12.00: 3 x 12.00 x 994 / 3000 = 11.928."""
    lots = (Lot("L1", POST, STICK, 5, Decimal(12), "rack"),)
    netting = netted(layouts=[layout("L1", 3, 1000, 1000, remainder=994)])
    found = left(lots=lots, taken={"L1": 3}, netting=netting, keep_from=keep_from)
    spare = Leftover(POST, STICK, 2, "rack", "L1", "lot", False, Decimal("24.00"))
    end = Leftover(POST, Decimal(994), 3, "rack", "L1", "cut", True, Decimal("11.93"))
    assert found.leftovers == ((spare, end) if kept else (spare,))
    assert found.scrap_value == (0 if kept else Decimal("11.93"))
    assert found.leftover_value == (Decimal("35.93") if kept else 24)
    sums = balance(found)
    assert (sums.stock, sums.used, sums.kerf) == (15_000, 6_000, 18)
    assert (sums.leftover, sums.scrap) == ((8_982, 0) if kept else (6_000, 2_982))


def test_a_stick_that_is_used_up_leaves_nothing() -> None:
    """The last cut runs off the end: 2 x 1 m, 997 mm and one cut of 3 mm."""
    lots = (Lot("L1", POST, STICK, 1, Decimal(12), "rack"),)
    netting = netted(layouts=[layout("L1", 1, 1000, 1000, 994, remainder=0)])
    found = left(lots=lots, taken={"L1": 1}, netting=netting, keep_from="0")
    assert (found.leftovers, found.scrap_value) == ((), 0)
    assert balance(found) == Balance(POST, True, STICK, ZERO, Decimal(2994), Decimal(6), ZERO, ZERO)


def test_ends_of_new_sticks_lie_at_the_delivery_site_at_the_average_price() -> None:
    """10 for 130.00 and 5 for 80.00 are 14.00 each; 997 mm of 3 m twice: 9.3053."""
    bought = order(line(POST, 10, 10, "13")), order(line(POST, 4, 5, "16"))
    netting = netted(layouts=[layout("", 2, 2000, remainder=997), layout("", 12, 3000, remainder=0)])
    found = left(netting=netting, orders=bought)
    assert found.leftovers == (
        Leftover(POST, STICK, 1, "creek", "", "bought", False, Decimal("16.00")),
        Leftover(POST, Decimal(997), 2, "creek", "", "cut", True, Decimal("9.31")),
    )
    assert balance(found) == Balance(
        POST, True, ZERO, Decimal(45_000), Decimal(40_000), Decimal(6), Decimal(4994), ZERO
    )


def test_ends_of_common_stock_lie_where_it_was_delivered() -> None:
    """Fetched from a cooperative's barn, 4 sticks of 12.00; 997 mm of each of 2 are left: 2 x 12.00 x 997 / 3000."""
    lots = (Lot("L1", POST, STICK, 4, Decimal(12), "rack", common="Valley"),)
    netting = netted(layouts=[layout("L1", 2, 2000, remainder=997)])
    found = left(lots=lots, taken={"L1": 2}, netting=netting)
    assert found.leftovers == (Leftover(POST, Decimal(997), 2, "creek", "L1", "cut", True, Decimal("7.98")),)
    assert balance(found) == Balance(POST, True, ZERO, Decimal(6000), Decimal(4000), Decimal(6), Decimal(1994), ZERO)


def test_ends_of_one_lot_and_length_are_one_row() -> None:
    """Values are rounded once for the row: 3 x 0.334 is 1.002, not 3 x 0.33."""
    lots = (Lot("L1", POST, STICK, 3, Decimal(1), "rack"),)
    netting = netted(
        layouts=[layout("L1", 1, 1995, remainder=1002), layout("L1", 2, 996, 996, remainder=1002)],
    )
    (end,) = left(lots=lots, taken={"L1": 3}, netting=netting).leftovers
    assert (end.quantity, end.value) == (3, Decimal("1.00"))
    # Scrap is summed before it is rounded as well: two ends of 0.0035 are 0.007.
    half = netted(layouts=[layout("L1", 1, 2986, remainder=11), layout("L1", 1, 1493, 1490, remainder=11)])
    assert left(lots=lots, taken={"L1": 2}, netting=half).scrap_value == Decimal("0.01")


RUN = TakeoffRow("a", "ridge purlins", RAIL, STICK, 6, "sticks", True, "", trim=Decimal(900), trims=3)


@pytest.mark.parametrize(("short", "ends"), [(0, 3), (1, 2), (3, 0), (5, 0)])
def test_what_is_sawn_off_joined_runs(short: int, ends: int) -> None:
    """3 runs of 2 sticks of 12.00 with 900 mm sawn off each, 3 mm of it dust: 897 / 3000 x 12.00 = 3.588 each. A run
    that lacks its last stick is not sawn."""
    lots = (Lot("L1", RAIL, STICK, 6 - short, Decimal(12), "rack"),)
    netting = netted(
        allocations=[Allocation("L1", "rack", RAIL, STICK, 6 - short, "a", "ridge purlins")],
        unmet=[Unmet(RAIL, STICK, short, "a", "ridge purlins", "")] if short else [],
    )
    found = left(lots=lots, taken={"L1": 6 - short}, netting=netting, takeoff=(RUN,))
    value = {3: "10.76", 2: "7.18", 0: "0"}[ends]
    rows = [(row.length, row.quantity, row.place, row.lot, row.source, row.value) for row in found.leftovers]
    assert rows == ([(Decimal(897), ends, "north", "L1", "cut", Decimal(value))] if ends else [])
    sums = balance(found)
    assert (sums.used, sums.kerf, sums.leftover) == (STICK * (6 - short) - 900 * ends, KERF * ends, 897 * ends)


def test_nothing_is_left_of_a_run_that_could_not_be_had() -> None:
    netting = netted(unmet=[Unmet(RAIL, STICK, 6, "a", "ridge purlins", "")])
    assert left(netting=netting, takeoff=(RUN,)) == Remains((), ZERO, ())


def test_a_run_that_was_partly_bought_is_sawn_off_new_sticks() -> None:
    """4 from the yard at 12.00 and 2 new at 20.00: the last ones are new, 2 of 3 x 897 / 3000 x 20.00 each."""
    lots = (Lot("L1", RAIL, STICK, 4, Decimal(12), "rack"),)
    netting = netted(
        allocations=[Allocation("L1", "rack", RAIL, STICK, 4, "a", "ridge purlins")],
        needs=[Need(RAIL, STICK, 2, DAY, "a", "ridge purlins")],
    )
    bought = (order(line(RAIL, 2, 2, "20")),)
    (end,) = left(lots=lots, taken={"L1": 4}, netting=netting, orders=bought, takeoff=(RUN,)).leftovers
    assert (end.quantity, end.place, end.lot, end.value) == (3, "north", "", Decimal("17.94"))


@pytest.mark.parametrize(("trim", "end"), [("2", None), ("3", None), ("3.5", "0.5")])
def test_a_trim_no_wider_than_the_saw_is_all_dust(trim: str, end: str | None) -> None:
    lots = (Lot("L1", RAIL, STICK, 6, Decimal(12), "rack"),)
    netting = netted(allocations=[Allocation("L1", "rack", RAIL, STICK, 6, "a", "ridge purlins")])
    row = replace(RUN, trim=Decimal(trim))
    found = left(lots=lots, taken={"L1": 6}, netting=netting, takeoff=(row,), keep_from="0")
    assert [r.length for r in found.leftovers] == ([] if end is None else [Decimal(end)])
    assert balance(found).kerf == 3 * min(KERF, Decimal(trim))


def test_counted_things_are_counted() -> None:
    """7 anchors in the yard, 12 wanted, 5 bought in a pack of 6: one over."""
    lots = (Lot("L1", "anchor", None, 7, Decimal(8), "shed"), Lot("L2", "anchor", None, 2, Decimal(9), "barn"))
    netting = netted(
        allocations=[Allocation("L1", "shed", "anchor", None, 7, "a", "anchors")],
        needs=[Need("anchor", None, 5, DAY, "a", "anchors")],
    )
    row = TakeoffRow("a", "anchors", "anchor", None, 12, "each", True, "")
    bought = (order(line("anchor", 5, 6, "8.905", length=None)),)
    found = left(lots=lots, taken={"L1": 7}, netting=netting, orders=bought, takeoff=(row,))
    assert found.leftovers == (
        Leftover("anchor", None, 1, "creek", "", "bought", False, Decimal("8.91")),
        Leftover("anchor", None, 2, "barn", "L2", "lot", False, Decimal("18.00")),
    )
    assert balance(found) == Balance("anchor", False, Decimal(9), Decimal(6), Decimal(12), ZERO, Decimal(3), ZERO)
