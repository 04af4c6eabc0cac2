"""What planning says of small changes, in words and to and from JSON: lengths and money as text, nothing is rounded."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from farmbuild.common.speaking import said_day
from farmbuild.measure import UnitSystem, format_day, format_length, format_money, join_words
from farmbuild.measure.speech import gettext_noop, sentence
from farmbuild.planning.advice.buying import Buying, NoLeast, OneLength, Wait, buying_advice
from farmbuild.planning.advice.changes import BY_FIELD, Change, changed
from farmbuild.planning.advice.proof import Saving, savings
from farmbuild.planning.house.fields import BY_NAME
from farmbuild.planning.inputs import Season
from farmbuild.planning.season.naming import house_names

__all__ = [
    "BY_FIELD",
    "Buying",
    "Change",
    "NoLeast",
    "OneLength",
    "Saving",
    "Season",
    "Wait",
    "buying_advice",
    "caution_of",
    "change_of",
    "changed_by",
    "houses_in_words",
    "move_of",
    "packed_change",
    "packed_saving",
    "saving_of",
    "savings",
    "title_of",
]


@dataclass(frozen=True)
class Move:
    """One field of one house from ``old`` to ``new``; ``along`` goes by as much."""

    field: str
    label: str
    old: Any
    new: Any
    along: tuple[str, ...] = ()

    def said(self, value: Any, units: UnitSystem) -> str:
        return said_day(value) if isinstance(value, date) else format_length(value, units)


def move_of(change: Change | Wait, house: str) -> Move:
    if isinstance(change, Wait):
        return Move("need_date", gettext_noop("day"), change.was[change.houses.index(house)], change.until)
    field = change.field
    return Move(field, BY_NAME[field].said, change.old, change.new, BY_FIELD[field].along)


def caution_of(change: Change | Buying) -> str:
    match change:
        case Change():
            return BY_FIELD[change.field].caution
        case Wait():
            return gettext_noop("Crews and customers have to be able to wait so long.")
        case NoLeast():
            return gettext_noop("Ask the supplier first. The order can be sent only once they agree.")
    return ""


def packed_change(change: Change | Buying) -> dict[str, Any]:
    match change:
        case OneLength(material, length):
            return {"material": material, "only": str(length)}
        case Wait(houses, was, until):
            return {"houses": list(houses), "was": [day.isoformat() for day in was], "until": until.isoformat()}
        case NoLeast(supplier, least):
            return {"supplier": supplier, "least": str(least)}
    return {"field": change.field, "houses": list(change.houses), "old": str(change.old), "new": str(change.new)}


def change_of(packed: dict[str, Any]) -> Change | Buying:
    match packed:
        case {"material": material, "only": only}:
            return OneLength(material, Decimal(only))
        case {"houses": houses, "was": was, "until": until}:
            return Wait(tuple(houses), tuple(map(date.fromisoformat, was)), date.fromisoformat(until))
        case {"supplier": supplier, "least": least}:
            return NoLeast(supplier, Decimal(least))
    return Change(packed["field"], tuple(packed["houses"]), Decimal(packed["old"]), Decimal(packed["new"]))


def changed_by(change: Change | Buying, season: Season) -> Season:
    return changed(season, change) if isinstance(change, Change) else change.applied(season)


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


def title_of(change: Change | Buying, season: Season) -> str:
    """ground post length 23 7/8" instead of 24"; only 20' of Rail 1 3/8; materials on 12 May 2027"""
    units = season.buyer.units
    match change:
        case OneLength(material, length):
            names = {one.code: one.name for one in season.materials}
            what = names.get(material, material)
            return sentence("only %(length)s of %(what)s", length=format_length(length, units), what=what)
        case Wait(_, _, until):
            return sentence("materials on %(day)s instead of sooner", day=format_day(until))
        case NoLeast(supplier, least):
            names = {one.code: one.name for one in season.suppliers}
            who, now = names.get(supplier, supplier), format_money(least, season.buyer.currency)
            return sentence("no least order at %(supplier)s, now %(money)s", supplier=who, money=now)
    new, old = format_length(change.new, units), format_length(change.old, units)
    return sentence("%(field)s %(new)s instead of %(old)s", field=BY_NAME[change.field].said, new=new, old=old)


def houses_in_words(change: Change | Buying, season: Season) -> str:
    """ "" of what is bought otherwise for all of them."""
    names = house_names(season)
    return join_words([names.get(ref, ref) for ref in getattr(change, "houses", ())])
