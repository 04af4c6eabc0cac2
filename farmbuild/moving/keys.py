"""Keys of rows that stand where no foreign key says so: in numbers, in text and in JSON.

A row gets another key where other organisations have rows already. Each rewriter is given a value and ``key``, which
turns the key of a row of a table into the one that it has on the other side, and gives the value back with those in
it. Every column of JSON and every large number is named here, with its rewriter or as one that holds no key; a test
goes through them. What stored plans and quotes name is by codes, short names and numbers, and offers by
``Offer.made_as``, so that their digests stay.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from farmbuild.history.kept import kinds

#: Label of a table and a key there; the key of that row on the other side.
Key = Callable[[str, int], int]
Rewriter = Callable[[Any, Key], Any]

_HOUSE, _TASK, _CREW, _BENDER = "sites.House", "crew.Task", "crew.Crew", "hoops.Bender"
#: What an entry of a member's account was posted for begins with one of these, then the key, then perhaps a part.
_POSTED_FOR = {
    "order": ("coop.JointOrder", None),
    "booking": ("crew.BenderBooking", None),
    # A damage is counted by its booking.
    "damage": ("crew.BenderBooking", None),
    "wish": ("coop.CommonWish", None),
    "pipe": ("coop.PipeLoan", "coop.PipeReturn"),
}
_SOURCE = re.compile(r"([a-z]+) (\d+)(?:-(\d+))?( part \d+)?")
_BACK = re.compile(r"back (\d+)")


def of(label: str, *, none: int | None = None) -> Rewriter:
    """A number that is the key of a row of a table; ``none`` stands for no row."""
    return lambda value, key: value if value is None or value == none else key(label, value)


def source(value: str, key: Key) -> str:
    if not (found := _SOURCE.fullmatch(value)) or found[1] not in _POSTED_FOR:
        return value
    label, second = _POSTED_FOR[found[1]]
    told = f"{found[1]} {key(label, int(found[2]))}"
    if found[3]:
        told += f"-{key(second, int(found[3])) if second else found[3]}"
    return told + (found[4] or "")


def press(value: str, key: Key) -> str:
    """Of what was handed out: the form that was sent, or what it takes back."""
    return f"back {key('coop.Handout', int(found[1]))}" if (found := _BACK.fullmatch(value)) else value


def pieces(value: list[list[Any]], key: Key) -> list[list[Any]]:
    """Of a hold that was used: house, purpose, length, how many each."""
    return [[key(_HOUSE, house), *rest] for house, *rest in value]


def options(value: dict[str, Any] | None, key: Key) -> dict[str, Any] | None:
    """Of a quote as it was sent; an option with the key 0 is none of the table."""
    if not value or "options" not in value:
        return value
    return value | {
        "options": [row | {"option": row["option"] and key("quotes.Option", row["option"])} for row in value["options"]]
    }


def statement(value: dict[str, Any], key: Key) -> dict[str, Any]:
    """A statement as it was sent: each of its rows names an entry."""
    return value | {
        "parts": [
            part | {"rows": [row | {"entry": key("coop.MemberEntry", row["entry"])} for row in part["rows"]]}
            for part in value["parts"]
        ]
    }


def of_others(value: list[Any], key: Key) -> list[Any]:
    """What a wish is for names houses of the farm that asked, which do not go along."""
    return []


def as_text(label: str, before: str = "") -> Rewriter:
    """The same written as text, with something before it."""
    return lambda value, key: f"{before}{key(label, int(value.removeprefix(before)))}" if value else value


def resource(value: str, key: Key) -> str:
    kind, _, number = value.partition("-")
    return f"{kind}-{key(_CREW if kind == 'crew' else _BENDER, int(number))}"


def at(places: Mapping[str, Rewriter]) -> Rewriter:
    """Of JSON: places in it, by names with points between; ``*`` is each of a list or object, ``#`` each name of an
    object, a number one of a list."""

    def rewrite(value: Any, key: Key) -> Any:
        for place, rewriter in places.items():
            value = _at(value, place.split("."), rewriter, key)
        return value

    return rewrite


def _at(value: Any, way: list[str], rewriter: Rewriter, key: Key) -> Any:
    if value is None:
        return None
    if not way:
        return rewriter(value, key)
    first, *rest = way
    if first == "#":
        return {rewriter(name, key): each for name, each in value.items()}
    if isinstance(value, list):
        return [_at(each, rest, rewriter, key) if first in ("*", str(at)) else each for at, each in enumerate(value)]
    return {name: _at(each, rest, rewriter, key) if first in ("*", name) else each for name, each in value.items()}


_BY_TASK, _BY_HOUSE = as_text(_TASK), as_text(_HOUSE)
_SCHEDULE_INPUTS = at(
    {
        "work.tasks.*.ref": _BY_TASK,
        "work.tasks.*.job": _BY_HOUSE,
        "work.tasks.*.after.*.task": _BY_TASK,
        "work.tasks.*.fixed.task": _BY_TASK,
        "work.tasks.*.published.task": _BY_TASK,
        "work.tasks.*.ways.*.needs.*.resource": resource,
        "work.resources.*.ref": resource,
        "ways.#": _BY_TASK,
        "ways.*.*.0": of(_CREW),
        "ways.*.*.1": of(_BENDER),
        "dues.#": _BY_HOUSE,
        "reasons.#": _BY_TASK,
        "before.#": _BY_TASK,
        "before.*.crew": of(_CREW),
        "before.*.bender": of(_BENDER),
    }
)
_SCHEDULE_RESULT = at(
    {
        **{f"{part}.*.task": of(_TASK) for part in ("placed", "moves")},
        **{f"{part}.*.crew": of(_CREW) for part in ("placed", "moves")},
        **{f"{part}.*.bender": of(_BENDER) for part in ("placed", "moves")},
        "late.*.house": of(_HOUSE),
        "moved.*": of(_TASK),
        "unplaced.*.0": of(_TASK),
        "broken.*.*": of(_TASK),
    }
)
#: The digest beside it is of other keys then, so that all is compared part by part, as after any change.
_SCHEDULE_SEEN = at(
    {
        "world.weeks.#": as_text("crew.WorkWeek"),
        "world.crews.#": as_text(_CREW),
        "world.crews.*.1": of("crew.WorkWeek"),
        "world.people.#": as_text("crew.Person"),
        "world.people.*.1": of(_CREW),
        "world.days_off.#": as_text("crew.DayOff"),
        "world.days_off.*.0": of("crew.Person"),
        "world.travel.#": as_text("crew.Travel"),
        "world.benders.#": as_text(_BENDER),
        "world.benders.*.2.*": of("catalogue.Material"),
        "world.lent.#": as_text("crew.BenderBooking"),
        "world.lent.*.0": of(_BENDER),
        "world.steps.#": as_text("crew.WorkTemplate"),
        "world.houses.#": _BY_HOUSE,
        "world.houses.*.2": of("crew.WorkTemplate"),
        "world.houses.*.4.0": of("hoops.Recipe"),
        "world.houses.*.4.2": of("catalogue.Material"),
        "world.houses.*.4.3": of(_BENDER),
        "world.materials.#": _BY_HOUSE,
        "world.tasks.#": _BY_TASK,
        "world.tasks.*.0": of(_HOUSE),
    }
)

#: By table and column.
REWRITTEN: Mapping[str, Rewriter] = {
    "catalogue.OfferRecord.offer_key": of("catalogue.Offer"),
    "stock.CountLine.upto": of("stock.Movement", none=0),
    "stock.CountEntry.upto": of("stock.Movement", none=0),
    "stock.UsedHold.pieces": pieces,
    "crew.Schedule.inputs": _SCHEDULE_INPUTS,
    "crew.Schedule.seen": _SCHEDULE_SEEN,
    "crew.Schedule.result": _SCHEDULE_RESULT,
    "quotes.QuoteVersion.shown": options,
    "quotes.ChangeOrder.shown": options,
    "coop.MemberEntry.source": source,
    "coop.Handout.press": press,
    "coop.CommonWish.wanted": of_others,
    "coop.SentStatement.shown": statement,
    "coop.SentStatement.through": of("coop.MemberEntry", none=0),
}
#: Columns of JSON, large numbers and text that nobody types, in which no key of a row stands.
KEYLESS = frozenset(
    """
    history.Entry.changes orgs.Membership.without orgs.Membership.also
    catalogue.Offer.made_as catalogue.OfferRecord.prices
    catalogue.PriceList.sheets catalogue.PriceList.said catalogue.PriceList.choices catalogue.PriceList.changes
    stock.Cut.stick_nm stock.Cut.kerf_nm stock.Cut.pieces_nm stock.Cut.offcut_nm stock.Cut.scrap_nm
    stock.CutPiece.length_nm
    plans.Plan.inputs plans.Plan.inputs_digest plans.Plan.result plans.Plan.result_digest plans.Plan.tried
    plans.PlanSavings.buying plans.PlanSavings.found
    plans.PlanFromYard.asked plans.PlanFromYard.found
    buying.Receipt.token buying.Invoice.token buying.Reply.rows
    quotes.JobHouse.agreed quotes.Option.unpriced quotes.OptionHouse.spec quotes.OptionHouse.own_rows
    quotes.OptionHouse.starter quotes.QuoteLine.key quotes.QuoteLine.step quotes.ChangeOrder.lines
    quotes.ChangeOrder.rates quotes.Bill.shown
    coop.BookingCharge.lines coop.JointOrder.market
    """.split()  # noqa: SIM905
)
#: Columns that are looked at with others of their row.
WITH_OTHERS = frozenset({"history.Entry.record", "history.Entry.address_key"})


def in_entry(row: dict[str, Any], key: Key) -> dict[str, Any]:
    """An entry of the history names its record by kind and key, and the page of it by what stands in its address."""
    kept = kinds().get(row["kind"])
    if kept is None:
        return row
    label = kept.model._meta.label
    parts = row["address_key"].split()
    for at, column in enumerate(kept.leads_to[1:] if kept.leads_to else ()):
        if column == "pk" and at < len(parts):
            parts[at] = str(key(label, int(parts[at])))
    return row | {"record": key(label, row["record"]), "address_key": " ".join(parts)}


#: By table, with all columns of a row.
OF_ROWS: Mapping[str, Callable[[dict[str, Any], Key], dict[str, Any]]] = {"history.Entry": in_entry}


def rewritten(label: str, row: dict[str, Any], key: Key) -> dict[str, Any]:
    """A row with the keys of the other side wherever no foreign key says so."""
    for column, value in row.items():
        if (rewriter := REWRITTEN.get(f"{label}.{column}")) and value is not None:
            row = row | {column: rewriter(value, key)}
    return OF_ROWS[label](row, key) if label in OF_ROWS else row
