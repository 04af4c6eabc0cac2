"""What is different between the season a plan was made from and the season as it is now, in sentences."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from datetime import date
from decimal import Decimal
from enum import Enum
from typing import Any, TypeVar

from farmbuild.measure import UnitSystem, format_day, format_decimal, format_length, format_mm
from farmbuild.measure.speech import gettext_noop, joined, sentence
from farmbuild.planning.house.own_rows import OwnRow
from farmbuild.planning.inputs import Offer, Season

T = TypeVar("T")

#: Fields whose Decimals are money or percent; every other Decimal is a length.
MONEY = frozenset({"unit_cost", "unit_price", "delivery_charge", "free_delivery_from", "minimum_order", "tax_percent"})
UNIT_WORDS = {UnitSystem.IMPERIAL: "feet and inches", UnitSystem.METRIC: "metres and millimetres"}
#: Fields that change most, as a page says them; others are said as they are named.
FIELD_WORDS = (
    gettext_noop("quantity"), gettext_noop("unit cost"), gettext_noop("unit price"), gettext_noop("length"),
    gettext_noop("place"), gettext_noop("need date"), gettext_noop("lead days"), gettext_noop("valid until"),
    gettext_noop("delivery charge"), gettext_noop("minimum order"), gettext_noop("name"), gettext_noop("site"),
    gettext_noop("as of"), gettext_noop("kerf"), gettext_noop("keep from"), gettext_noop("pack"),
)  # fmt: skip
#: More changed fields than this in one thing are counted, not listed.
MAX_LISTED = 4


def changes(old: Season, new: Season) -> list[str]:
    """Sentences, one a thing that was added, taken out or changed; none when the plan still holds."""
    say = _Say(new.buyer.units)
    out: list[str] = []
    settings = ("as_of", "delivery_site", "kerf", "keep_from", "buyer")
    differences = [found for name in settings for found in say.between(name, getattr(old, name), getattr(new, name))]
    if differences:
        out.append(sentence("Settings: %(differences)s.", differences=_some(differences)))
    out += say.things("House", old.houses, new.houses, lambda h: h.ref, lambda h: h.name)
    out += say.things("Lot", old.lots, new.lots, lambda lot: lot.ref, lambda lot: lot.ref)
    out += say.things("Offer", old.offers, new.offers, lambda o: o.ref, _offer_name(old, new, say))
    out += say.things("Supplier", old.suppliers, new.suppliers, lambda s: s.code, lambda s: s.name)
    out += say.things("Material", old.materials, new.materials, lambda m: m.code, lambda m: m.name)
    out += say.things("Site", old.sites, new.sites, lambda s: s.code, lambda s: s.name)
    return out


def _offer_name(old: Season, new: Season, say: _Say) -> Callable[[Offer], str]:
    """Offers have no name of their own: 'of 1-3/8 top rail 10' from Bristlecone Pipe'."""
    materials = {m.code: m.name for m in (*new.materials, *old.materials)}
    suppliers = {s.code: s.name for s in (*new.suppliers, *old.suppliers)}

    def name(offer: Offer) -> str:
        size = "" if offer.length is None else f" {say.length(offer.length)}"
        what = materials.get(offer.material, offer.material)
        supplier = suppliers.get(offer.supplier, offer.supplier)
        return sentence("of %(what)s from %(supplier)s", what=f"{what}{size}", supplier=supplier)

    return name


def _some(differences: Sequence[str]) -> str:
    if len(differences) <= MAX_LISTED:
        return joined("; ", differences)
    rest = len(differences) - MAX_LISTED
    return sentence("%(some)s; and %(rest)s more", some=joined("; ", differences[:MAX_LISTED]), rest=rest)


@dataclasses.dataclass(frozen=True)
class _Say:
    units: UnitSystem

    def value(self, name: str, value: Any) -> str:
        if value is None or value == "":
            return sentence("nothing")
        if isinstance(value, bool):
            return sentence("yes") if value else sentence("no")
        if isinstance(value, UnitSystem):
            return UNIT_WORDS[value]
        if isinstance(value, Enum):
            return str(value.value)
        if isinstance(value, Decimal):
            return format_decimal(value.normalize()) if name in MONEY else self.length(value)
        if isinstance(value, date):
            return format_day(value)
        if isinstance(value, tuple):
            between = "; " if any(isinstance(item, OwnRow) for item in value) else ", "
            return between.join(self.value(name, item) for item in value) or sentence("nothing")
        if isinstance(value, OwnRow):
            return value.words(self.units)
        if dataclasses.is_dataclass(value):
            fields = dataclasses.fields(value)
            return " ".join(self.value(f.name, getattr(value, f.name)) for f in fields)
        return str(value)

    def length(self, value: Decimal) -> str:
        return format_length(value, self.units)

    def exactly(self, name: str, value: Any) -> str:
        if isinstance(value, Decimal) and name not in MONEY:
            return format_mm(value.normalize())
        return str(value)

    def between(self, name: str, old: Any, new: Any, owner: str = "") -> list[str]:
        """'length was 48', is 60'' for every field that differs, going into the parts of a thing."""
        if old == new:
            return []
        if dataclasses.is_dataclass(old) and type(old) is type(new):
            inner = name if name in ("recipe", "buyer") else ""
            return [
                found
                for f in dataclasses.fields(old)
                if f.compare
                for found in self.between(f.name, getattr(old, f.name), getattr(new, f.name), inner)
            ]
        words = f"{owner} {name}".strip().replace("_", " ")
        was, now = self.value(name, old), self.value(name, new)
        if was == now:
            # A change below what is shown.
            was, now = self.exactly(name, old), self.exactly(name, new)
        return [sentence("%(field)s was %(was)s, is %(now)s", field=sentence(words), was=was, now=now)]

    def things(
        self,
        what: str,
        old: Sequence[T],
        new: Sequence[T],
        key: Callable[[T], str],
        name: Callable[[T], str],
    ) -> list[str]:
        before, after = {key(t): t for t in old}, {key(t): t for t in new}
        kind = sentence(what)
        out: list[str] = [
            sentence("%(kind)s %(name)s is new.", kind=kind, name=name(after[k])) for k in after if k not in before
        ]
        out += [
            sentence("%(kind)s %(name)s is gone.", kind=kind, name=name(before[k])) for k in before if k not in after
        ]
        for k, thing in after.items():
            if k in before and before[k] != thing:
                some = _some(self.between("", before[k], thing))
                out.append(
                    sentence("%(kind)s %(name)s: %(differences)s.", kind=kind, name=name(thing), differences=some)
                )
        if not out and [key(t) for t in old] != [key(t) for t in new]:
            kinds = f"{what}s"
            out.append(sentence("%(kinds)s are in another order.", kinds=sentence(kinds)))
        return out
