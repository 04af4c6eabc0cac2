"""What is held for joints is not called too much: shorter sticks than the spec's have more joints than it tells of."""

from __future__ import annotations

from decimal import Decimal

import pytest

from farmbuild.planning.results import TooMuch
from farmbuild.plans.balance import HouseBalance
from farmbuild.plans.putting_back import FOR_JOINTS, TooMuchRow


def too_much(purpose: str) -> TooMuch:
    return TooMuch("north-1", purpose, "screw", None, 15, offcut=False, bent=False)


def test_only_what_the_house_surely_does_not_need_is_counted_as_too_much():
    there, film = too_much("joint screws"), too_much("film on the end walls")
    held = (film, *map(too_much, ("joint screws", "joint tape", "purlin sleeves")))
    balance = HouseBalance(rows=(), too_much=(there,), held_too_much=held, materials={})
    assert balance.surely_too_much == (there, film)


@pytest.mark.parametrize(
    ("purpose", "held", "said"),
    [
        ("joint screws", True, FOR_JOINTS),
        ("joint tape", True, FOR_JOINTS),
        ("joint screws", False, "issued whole; goes back to its lot"),
        ("hoops", True, "held; releasing frees it for others"),
    ],
)
def test_what_to_do_with_it(purpose, held, said):
    row = TooMuchRow("screw", "Screw", Decimal(0), 15, purpose, offcut=False, held=held, refused="")
    assert row.what == said
