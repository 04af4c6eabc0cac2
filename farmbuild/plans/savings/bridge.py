"""What planning says of small changes, in words and to and from JSON: lengths and money as text, nothing is rounded."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from farmbuild.measure import format_length, join_words
from farmbuild.planning.advice.changes import BY_FIELD, Change, changed
from farmbuild.planning.advice.proof import Saving, savings
from farmbuild.planning.advice.without_buying import Further, WithoutBuying, without_buying
from farmbuild.planning.house.fields import BY_NAME
from farmbuild.planning.inputs import Season
from farmbuild.planning.season.naming import house_names

__all__ = [
    "BY_FIELD",
    "Change",
    "Saving",
    "Season",
    "change_of",
    "changed",
    "houses_in_words",
    "label_of",
    "packed_change",
    "packed_saving",
    "packed_without_buying",
    "saving_of",
    "savings",
    "title_of",
    "without_buying",
    "without_buying_of",
]


def label_of(change: Change) -> str:
    return BY_NAME[change.field].called


def packed_change(change: Change) -> dict[str, Any]:
    return {"field": change.field, "houses": list(change.houses), "old": str(change.old), "new": str(change.new)}


def change_of(packed: dict[str, Any]) -> Change:
    return Change(packed["field"], tuple(packed["houses"]), Decimal(packed["old"]), Decimal(packed["new"]))


def packed_saving(saving: Saving) -> dict[str, Any]:
    return {
        "change": packed_change(saving.change),
        "saved": str(saving.saved),
        "left": str(saving.left),
        "fewer": [[material, None if length is None else str(length), n] for material, length, n in saving.fewer],
    }


def saving_of(packed: dict[str, Any]) -> Saving:
    return Saving(
        change_of(packed["change"]),
        Decimal(packed["saved"]),
        Decimal(packed["left"]),
        tuple((material, length and Decimal(length), n) for material, length, n in packed["fewer"]),
    )


def title_of(change: Change, season: Season) -> str:
    """ground post length 23 7/8" instead of 24" """
    units = season.buyer.units
    new, old = format_length(change.new, units), format_length(change.old, units)
    return f"{label_of(change)} {new} instead of {old}"


def houses_in_words(change: Change, season: Season) -> str:
    names = house_names(season)
    return join_words([names.get(ref, ref) for ref in change.houses])


def packed_without_buying(found: WithoutBuying) -> dict[str, Any]:
    return {
        "houses": list(found.houses),
        "further": [[one.house, None if one.pays is None else str(one.pays)] for one in found.further],
        "proven": found.proven,
    }


def without_buying_of(packed: dict[str, Any]) -> WithoutBuying:
    further = tuple(Further(house, pays and Decimal(pays)) for house, pays in packed["further"])
    return WithoutBuying(tuple(packed["houses"]), further, packed["proven"])
