"""What a customer is shown, read back from what was frozen."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from farmbuild.planning.pricing.offered import OfferedHouse, OfferedPart, offered_of

D = Decimal


def option(key: int) -> dict[str, object]:
    return {
        "option": key,
        "name": f"Option {key}",
        "houses": [{"name": "East", "quantity": key, "facts": [["Length", "48'"]], "drawings": [["Plan", "<svg/>"]]}],
        "included": [["rail", "41 pieces"]],
        "work": ["set"],
        "parts": [{"name": "materials", "price": "10.10", "percent": "6", "tax": "0.61"}],
        "before_tax": "10.10",
        "tax": "0.61",
        "total": "10.71",
    }


SHOWN = {
    "title": "Quote",
    "sender": "Valley Farms",
    "to": ["A customer", "A place"],
    "job": "East",
    "day": "2027-03-01",
    "valid_until": "2027-03-31",
    "currency": "USD",
    "units": "imperial",
    "note": "a note",
    "options": [option(7), option(8)],
    "exclusions": ["digging"],
    "cautions": [["Wind", "calm air"]],
}


def test_every_field_is_read_and_an_option_is_found_by_its_key():
    found = offered_of(SHOWN)
    assert (found.day, found.valid_until) == (date(2027, 3, 1), date(2027, 3, 31))
    assert (found.title, found.sender, found.to) == ("Quote", "Valley Farms", ("A customer", "A place"))
    assert (found.job, found.currency, found.units, found.note) == ("East", "USD", "imperial", "a note")
    assert (found.exclusions, found.cautions, found.where) == (("digging",), (("Wind", "calm air"),), ())
    assert offered_of({**SHOWN, "where": ["a street"]}).where == ("a street",)
    assert [found.option(key) for key in (7, 8, 9)] == [*found.options, None]
    first = found.options[0]
    assert first.houses == (OfferedHouse("East", 7, (("Length", "48'"),), (("Plan", "<svg/>"),)),)
    assert first.parts == (OfferedPart("materials", D("10.10"), D(6), D("0.61")),)
    assert (first.name, first.included, first.work) == ("Option 7", (("rail", "41 pieces"),), ("set",))
    assert (first.before_tax, first.tax, first.total) == (D("10.10"), D("0.61"), D("10.71"))
