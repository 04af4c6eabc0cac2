"""Which stored offer a row of a workbook is, where a supplier has several of one thing."""

from __future__ import annotations

from types import SimpleNamespace

from farmbuild.projects.intake_goods import _pair


def offer(pack: int, supplier_code: str = "") -> SimpleNamespace:
    return SimpleNamespace(pack=pack, supplier_code=supplier_code)


def rows(*offers: SimpleNamespace) -> list[dict[str, object]]:
    return [vars(one) for one in offers]


def test_two_rows_alike_are_two_offers():
    one, two = offer(1), offer(1)
    found = _pair(rows(offer(1), offer(1), offer(1)), [one, two])
    assert found[0] is one and found[1] is two and found[2] is None


def test_by_pack_and_number_then_by_number_then_by_pack_then_what_is_left():
    ten, coded, other = offer(10), offer(5, "R-7"), offer(3, "R-9")
    found = _pair(rows(offer(10, "new"), offer(1, "R-7"), offer(2, "X")), [ten, coded, other])
    assert found[0] is ten and found[1] is coded and found[2] is other


def test_what_is_left_is_taken_only_by_the_one_row_that_is_left():
    assert _pair(rows(offer(2), offer(3)), [offer(9)]) == [None, None]
    one = offer(9)
    assert _pair(rows(offer(2)), [one]) == [one]
