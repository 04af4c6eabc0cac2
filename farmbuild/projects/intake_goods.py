"""Offers and stock of a project workbook into the site.

An offer has no name on the site: it is found again by supplier, material and length, then by pack and item number. A
lot is found by its reference, or by what lies where. What a lot has now is never written over: it is counted.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from farmbuild.catalogue.models import Offer, check_length, check_longest
from farmbuild.catalogue.selectors import offers_of
from farmbuild.catalogue.services import save_offer
from farmbuild.common.speaking import said_count, said_day, said_list
from farmbuild.measure import format_count, format_money
from farmbuild.projects.intake import Intake
from farmbuild.projects.outcomes import State
from farmbuild.stock.costing import first_amount
from farmbuild.stock.models import Lot, Movement, Place
from farmbuild.stock.selectors import lots_of, places_of
from farmbuild.stock.services import lock_references, places_named, take_numbers
from farmbuild.workbooks import project_layout as layout
from farmbuild.workbooks.project_season import Line

_AT_ONCE = 500


def take_offers(intake: Intake) -> None:
    sheet = layout.OFFERS
    groups: dict[tuple[Any, ...], list[Offer]] = defaultdict(list)
    for offer in offers_of(organisation=intake.organisation).order_by("pk"):
        groups[offer.supplier_id, offer.material_id, offer.length].append(offer)
    lines: dict[tuple[Any, ...], list[tuple[Line, dict[str, Any]]]] = defaultdict(list)
    for line in intake.table("Offers").lines:
        values = line.values
        supplier, material = intake.suppliers.get(values["supplier"]), intake.materials.get(values["material"])
        if supplier is None or material is None:
            continue
        wanted = {
            name: values[name] for name in ("length", "pack", "lead_days", "valid_until", "supplier_code", "listed_as")
        }
        wanted |= {"supplier": supplier, "material": material, "price_1": _steps(values)}
        lines[supplier.pk, material.pk, values["length"]].append((line, wanted))
    pairs = {}
    for group, rows in lines.items():
        for (line, wanted), offer in zip(rows, _pair([row for _, row in rows], groups[group]), strict=True):
            pairs[line.row] = (line, wanted, offer)
    for _, (line, wanted, offer) in sorted(pairs.items()):
        _put_offer(intake, sheet, line, wanted, offer)


def _steps(values: Mapping[str, Any]) -> tuple[tuple[int, Decimal], ...]:
    """Prices from how many on."""
    pairs = ((values[f"from_{n}"], values[f"price_{n}"]) for n in range(1, layout.MAX_BREAKS + 1))
    return tuple((first, price) for first, price in pairs if first is not None)


def _pair(rows: list[dict[str, Any]], offers: list[Offer]) -> list[Offer | None]:
    """Which stored offer each row of one supplier, material and length is; None for a new one."""
    found: list[Offer | None] = [None] * len(rows)
    left = list(offers)
    for names in (("pack", "supplier_code"), ("supplier_code",), ("pack",)):
        for at, row in enumerate(rows):
            same = [offer for offer in left if all(getattr(offer, name) == row[name] for name in names)]
            if found[at] is None and same and (names != ("supplier_code",) or row["supplier_code"]):
                found[at] = same[0]
                left.remove(same[0])
    open_rows = [at for at, offer in enumerate(found) if offer is None]
    if len(open_rows) == len(left) == 1:
        found[open_rows[0]] = left[0]
    return found


def _put_offer(intake: Intake, sheet: Any, line: Line, wanted: dict[str, Any], offer: Offer | None) -> None:
    currency = intake.organisation.currency

    def store(data: Mapping[str, Any]) -> Offer:
        given = {name: value for name, value in data.items() if name not in ("supplier", "price_1")}
        breaks = wanted["price_1"] if offer is None or "price_1" in data else _stored_steps(offer)
        return save_offer(
            organisation=intake.organisation,
            user=intake.user,
            supplier=wanted["supplier"],
            data=given | {"material": wanted["material"], "length": wanted["length"]},
            breaks=breaks,
            offer=offer,
        )

    def prices(steps: Iterable[tuple[int, Decimal]]) -> str:
        return said_list(
            [
                gettext("%(price)s from %(first)s")
                % {"price": format_money(price, currency), "first": format_count(first)}
                for first, price in steps
            ]
        )

    current = None
    if offer is not None:
        current = {name: getattr(offer, name) for name in wanted if name != "price_1"}
        current["price_1"] = _stored_steps(offer)
    name = gettext("%(material)s from %(supplier)s") % {"material": wanted["material"], "supplier": wanted["supplier"]}
    if wanted["length"] is not None:
        name += f", {intake.length(wanted['length'])}"
    intake.put(sheet, line, name, wanted=wanted, current=current, store=store, say={"price_1": prices})


def _stored_steps(offer: Offer) -> tuple[tuple[int, Decimal], ...]:
    return tuple(sorted((row.from_quantity, row.unit_price) for row in offer.breaks.all()))


# Stock


def take_stock(intake: Intake) -> None:
    """New lots as an opening count, in as many queries for one as for hundreds."""
    lines = intake.table("Stock").lines
    if not lines:
        return
    organisation = intake.organisation
    lock_references(organisation=organisation)
    lots = {lot.reference: lot for lot in lots_of(organisation=organisation)}
    places = {place.name.casefold(): place for place in places_of(organisation=organisation)}
    named = {line.values["ref"] for line in lines if not _unnamed(line)}
    piles: dict[tuple[Any, ...], list[Lot]] = defaultdict(list)
    for lot in lots.values():
        if lot.reference not in named and lot.on_hand:
            piles[lot.material_id, lot.length, lot.offcut, lot.place.name.casefold()].append(lot)
    new = []
    for line in lines:
        if (ready := _lot_of(intake, line, lots, piles, places)) is not None:
            new.append(ready)
    if new and not intake.outcomes.faults:
        _store(intake, new, places)


def _unnamed(line: Line) -> bool:
    """The reader gives a row without a name one of its own."""
    return line.values["ref"] == f"stock row {line.row}"


def _lot_of(
    intake: Intake,
    line: Line,
    lots: Mapping[str, Lot],
    piles: Mapping[tuple[Any, ...], list[Lot]],
    places: Mapping[str, Place],
) -> tuple[Line, Lot, str, int | None] | None:
    """The row as a new lot, with its place and site; None where it is none, which is said."""
    values, sheet = line.values, layout.STOCK
    material = intake.materials.get(values["material"])
    if material is None:
        return None
    place = " ".join(values["place"].split())
    name = gettext("%(value)s%(values)s of %(material)s") % {
        "value": "" if _unnamed(line) else values["ref"] + ": ",
        "values": said_count(values["quantity"], "piece"),
        "material": material,
    }
    if values["length"] is not None:
        name += f", {intake.length(values['length'])}"
    comes = values["available_from"]
    if comes and comes > intake.today:
        intake.tell(
            "Stock",
            line,
            name,
            State.LEFT,
            gettext("It comes on %(comes)s, so it is not in the yard yet.") % {"comes": said_day(comes)},
        )
        return None
    found = lots.get(values["ref"])
    if found is None and _unnamed(line):
        pile = piles.get((material.pk, values["length"], values["offcut"], place.casefold()), [])
        found = next((lot for lot in pile if lot.on_hand == values["quantity"]), pile[0] if pile else None)
        if found:
            pile.remove(found)
    if found is not None:
        _compare(intake, line, name, found, material)
        return None
    if not values["quantity"]:
        intake.tell("Stock", line, name, State.LEFT, gettext("There is nothing of it, so no lot is made."))
        return None
    if not place:
        column = sheet.by_name["place"].heading
        intake.fault("Stock", line, column, gettext("Type where it lies, for example Barn rack."))
        return None
    site = intake.sites.get(values["site"]) if values["site"] else None
    stands = places.get(place.casefold())
    if stands and site and stands.site_id != site.pk:
        where = gettext("is at %(site)s") % {"site": stands.site} if stands.site else gettext("is at no site")
        words = gettext("%(stands)s %(where)s. Leave the site as it is, or type another name for the place.") % {
            "stands": stands,
            "where": where,
        }
        intake.fault("Stock", line, sheet.by_name["site"].heading, words)
        return None
    supplier = intake.suppliers.get(values["supplier"]) if values["supplier"] else None
    lot = Lot(
        organisation=intake.organisation,
        reference="" if _unnamed(line) else values["ref"],
        material=material,
        length=values["length"],
        offcut=values["offcut"],
        supplier=supplier,
        unit_cost=values["unit_cost"],
        received_on=values["received_on"] or intake.today,
        on_hand=values["quantity"],
    )
    try:
        material.organisation = intake.organisation
        check_length(material, lot.length)
        check_longest(material, lot.length)
        lot.clean_fields(exclude=["organisation", "material", "place", "supplier", "reference"])
    except ValidationError as error:
        intake.refuse(sheet, line, error)
        return None
    intake.tell("Stock", line, name, State.NEW, gettext("An opening count at %(place)s.") % {"place": place})
    return line, lot, place, site.pk if site else None


def _compare(intake: Intake, line: Line, name: str, lot: Lot, material: Any) -> None:
    """A lot that is there already is never written over: it may have been used, cut or counted since."""
    values, sheet = line.values, layout.STOCK
    if (lot.material_id, lot.length) != (material.pk, values["length"]):
        is_now = f"{lot.material}, {intake.length(lot.length)}" if lot.length is not None else str(lot.material)
        words = gettext("Lot %(lot)s is %(is_now)s. Type another name for this one.") % {"lot": lot, "is_now": is_now}
        intake.fault("Stock", line, sheet.by_name["ref"].heading, words)
        return
    now = {"quantity": lot.on_hand, "unit_cost": lot.unit_cost, "place": lot.place.name, "offcut": lot.offcut}
    wanted = {"place": " ".join(values["place"].split()) or lot.place.name}
    wanted |= {column: values[column] for column in ("quantity", "unit_cost", "offcut")}
    there = intake.table("Stock").there
    differs = [column for column in now if column in there and now[column] != wanted[column]]
    if lot.place.name.casefold() == wanted["place"].casefold() and "place" in differs:
        differs.remove("place")
    changes = [
        (
            sheet.by_name[key].heading,
            intake.say(sheet.by_name[key], now[key]),
            intake.say(sheet.by_name[key], wanted[key]),
        )
        for key in differs
    ]
    if not differs:
        intake.tell("Stock", line, name, State.SAME)
        return
    words = gettext("Lot %(lot)s stays as it is. Count it, or put it right on its page, if the workbook is right.") % {
        "lot": lot
    }
    intake.tell("Stock", line, name, State.LEFT, words, changes)


def _store(intake: Intake, new: list[tuple[Line, Lot, str, int | None]], places: dict[str, Place]) -> None:
    sites = {site.pk: site for site in intake.sites.values()}
    by_site: dict[int | None, set[str]] = defaultdict(set)
    for _, _, place, site in new:
        if place.casefold() not in places:
            by_site[site].add(place)
    for site, names in sorted(by_site.items(), key=lambda pair: pair[0] or 0):
        missing = {name for name in names if name.casefold() not in places}
        places |= places_named(
            organisation=intake.organisation, names=missing, site=sites[site] if site is not None else None
        )
    numbers = iter(take_numbers(organisation=intake.organisation, count=sum(not lot.reference for _, lot, _, _ in new)))
    for line, lot, place, site in new:
        lot.place = places[place.casefold()]
        if site is not None and lot.place.site_id != site:
            words = gettext("%(place)s stands at two sites in this workbook. Give the places two names.") % {
                "place": lot.place
            }
            intake.fault("Stock", line, layout.STOCK.by_name["site"].heading, words)
        lot.reference = lot.reference or next(numbers)
    if intake.outcomes.faults:
        return
    reason = f"Opening count, from {intake.filename}"[:200]
    for start in range(0, len(new), _AT_ONCE):
        stored = Lot.objects.bulk_create(lot for _, lot, _, _ in new[start : start + _AT_ONCE])
        Movement.objects.bulk_create(
            Movement(
                lot=lot,
                kind=Movement.Kind.RECEIVE,
                quantity=lot.on_hand,
                amount=first_amount(lot, intake.organisation.currency),
                by=intake.user,
                reason=reason,
            )
            for lot in stored
        )
