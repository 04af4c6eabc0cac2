"""The rows of a supplier's list as understood: which material each is, and what it says; nothing is stored here."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from farmbuild.catalogue.lists.columns import FOOT, HUNDRED, METRE, PACK, PERS, PIECE, ROLES, THOUSAND, Columns
from farmbuild.catalogue.models import Material, Offer, check_length, check_longest
from farmbuild.measure import (
    LengthError,
    NumberError,
    Unit,
    UnitSystem,
    format_count,
    format_decimal,
    format_length,
    parse_length,
    read_whole,
)
from farmbuild.measure.currencies import CURRENCIES
from farmbuild.measure.limits import MAX_LEAD_DAYS
from farmbuild.orgs.models import Organisation
from farmbuild.workbooks.cells import EMPTY, Cell, CellError, as_date, as_length, as_money, as_quantity, as_text
from farmbuild.workbooks.headings import unit_said
from farmbuild.workbooks.sheets import Stored, restore, sign_of

#: Units of the last decimal that a price of one is kept with.
FINEST = Decimal("0.0001")
_EARLIEST, _LATEST = date(2000, 1, 1), date(2100, 12, 31)
LEAVE_OUT = "-"
_PER_END = re.compile(r"\s*(?:/|\bper\b)\s*([^\d\s].*)$", re.IGNORECASE)
_WEEKS = re.compile(r"(\S+)\s*(days?|d|weeks?|wks?|w|tage?|wochen?|jours?|semaines?|días?|semanas?)\.?", re.IGNORECASE)
_LENGTH_AT_END = re.compile(
    r"(?:^|[\s,x×])(\d[\d\s.,/'’′\"”″-]*(?:'|’|′|\"|”|″|ft|feet|foot|mm|cm|m|in)\.?)\s*$", re.IGNORECASE
)
_SIGNS = {"$": "dollar peso", "€": "euro", "£": "pound", "¥": "yen yuan"}


@dataclass(frozen=True)
class Terms:
    """What the person said for the whole list, where its rows say nothing."""

    since: date
    per: str = PIECE
    length: Decimal | None = None
    lead_days: int | None = None
    until: date | None = None
    #: "" as our own prices are; else whether the list's have the tax in them.
    taxed: bool | None = None
    #: Leave out every row whose material is not known.
    only_known: bool = False


@dataclass
class Known:
    """What rows can be matched with, read once."""

    organisation: Organisation
    unit: Unit
    materials: dict[str, Material]
    #: By short name and by name, casefolded.
    by_name: dict[str, Material]
    #: By what this supplier calls it: item number and name, casefolded.
    by_code: dict[str, list[Offer]]
    by_listed: dict[str, list[Offer]]

    @classmethod
    def of(cls, organisation: Organisation, materials: Iterable[Material], offers: Iterable[Offer]) -> Known:
        """``offers``: of the supplier, with their materials."""
        units = UnitSystem(organisation.unit_system)
        found = cls(organisation, Unit.FOOT if units is UnitSystem.IMPERIAL else Unit.METRE, {}, {}, {}, {})
        for material in materials:
            found.materials[material.code] = material
            found.by_name.setdefault(plain(material.name), material)
        found.by_name |= {plain(code): material for code, material in found.materials.items()}
        for offer in offers:
            if offer.supplier_code:
                found.by_code.setdefault(plain(offer.supplier_code), []).append(offer)
            if offer.listed_as:
                found.by_listed.setdefault(plain(offer.listed_as), []).append(offer)
        return found


@dataclass
class ListRow:
    """``problems``: role of the column (or "" for the whole row) and the sentence. ``state``: see the constants."""

    number: int
    state: str = ""
    code: str = ""
    name: str = ""
    material: Material | None = None
    length: Decimal | None = None
    pack: int = 1
    #: From how many pieces, and the price of one.
    prices: list[tuple[int, Decimal]] = field(default_factory=list)
    lead_days: int | None = None
    until: date | None = None
    since: date | None = None
    #: Number of the row whose thing this one adds a price to.
    under: int = 0
    chosen: bool = False
    problems: dict[str, str] = field(default_factory=dict)

    @property
    def sign(self) -> tuple[str, str]:
        return plain(self.code), plain(self.name)


#: Right; needs correcting; of no known material; left out by the person, or for want of a price.
RIGHT, WRONG, UNKNOWN, LEFT, NO_PRICE = "right", "wrong", "unknown", "left", "no price"


def plain(text: str) -> str:
    """By which texts are the same: without case, and one kind of marks for feet and inches."""
    return " ".join(text.casefold().replace("’", "'").replace("″", '"').replace("′", "'").split())


def read_rows(
    rows: Sequence[tuple[int, Sequence[Stored]]],
    columns: Columns,
    terms: Terms,
    known: Known,
    choices: Mapping[str, str],
) -> list[ListRow]:
    """``choices``: by number of the row, the short name of a material or LEAVE_OUT."""
    reader = _Reader(columns, terms, known, choices)
    found = [reader.read(number, cells) for number, cells in rows if number > columns.head]
    _share_choices(found, reader)
    return found


def _share_choices(rows: list[ListRow], reader: _Reader) -> None:
    """What was chosen for a row holds for the others of the same item number and name."""
    chosen = {row.sign: row.material for row in rows if row.chosen and row.material and any(row.sign)}
    for row in rows:
        if row.state == UNKNOWN and (material := chosen.get(row.sign)):
            row.material, row.state = material, RIGHT
            reader.fill(row)


class _Reader:
    def __init__(self, columns: Columns, terms: Terms, known: Known, choices: Mapping[str, str]) -> None:
        self.columns, self.terms, self.known, self.choices = columns, terms, known, choices
        self.organisation = known.organisation
        said = unit_said(columns.heads.get(columns.at("length") if columns.at("length") is not None else -1, ""))
        self.unit, self.told = said or known.unit, said is not None
        self.cells: dict[int, Sequence[Stored]] = {}
        self.above: ListRow | None = None
        self.tops: dict[int, ListRow] = {}
        self.price_columns = list(columns.prices())

    def read(self, number: int, cells: Sequence[Stored]) -> ListRow:
        row = ListRow(number)
        self.cells[number] = cells
        choice = self.choices.get(str(number), "")
        row.code = self._text(row, "code", 60)
        row.name = self._text(row, "name", 200)
        if choice == LEAVE_OUT:
            row.state, row.problems = LEFT, {}
            return row
        if all(self._cell(number, at).blank for at, _ in self.price_columns):
            row.state, row.problems = NO_PRICE, {}
            return row
        if not row.code and not row.name and self._cell_of(number, "our").blank and self.above and not choice:
            # A price for more pieces of the thing above, as in lists whose cells are merged downwards.
            row.under, row.code, row.name = self.above.number, self.above.code, self.above.name
            row.material, row.length = self.above.material, self.above.length
            row.state = LEFT if self.above.state == LEFT else RIGHT if row.material else UNKNOWN
        else:
            self._match(row, choice)
            self.above = self.tops[number] = row
        if row.state == RIGHT:
            self.fill(row)
        elif row.state == UNKNOWN and self.terms.only_known:
            row.state = LEFT
        return row

    def _match(self, row: ListRow, choice: str) -> None:
        known, our = self.known, plain(self._text(row, "our", 120))
        before = known.by_code.get(plain(row.code), []) if row.code else []
        before = before or (known.by_listed.get(plain(row.name), []) if row.name else [])
        if choice in known.materials:
            row.material, row.chosen = known.materials[choice], True
        elif our:
            row.material = known.by_name.get(our)
            if row.material is None:
                row.problems["our"] = gettext(
                    "None of your materials is called “%(our)s”. Choose one, or leave the row out."
                ) % {"our": our}
        elif before and len({offer.material_id for offer in before}) == 1:
            row.material = known.materials.get(before[0].material.code)
        else:
            row.material = known.by_name.get(plain(row.code)) or self._by_name(row)
        if row.material is not None and len({offer.length for offer in before}) == 1:
            row.length = before[0].length if before[0].material_id == row.material.pk else None
        row.state = RIGHT if row.material else UNKNOWN

    def _by_name(self, row: ListRow) -> Material | None:
        """By its whole name, or by its name before a comma and a length."""
        name = plain(row.name)
        return self.known.by_name.get(name) or self.known.by_name.get(name.rpartition(", ")[0])

    def fill(self, row: ListRow) -> None:
        """Everything but the material; what cannot be read stands in ``problems``."""
        number = row.number
        above = self.tops.get(row.under)
        row.pack = self._of(row, "pack", lambda cell: as_quantity(cell, least=1), above.pack if above else 1)
        if not self._cell_of(number, "length").blank:
            row.length = self._of(row, "length", self._length, None)
        elif row.material and not row.material.by_length:
            row.length = None
        elif row.length is None:
            row.length = self._length_of_name(row) or self.terms.length
        self._check_length(row)
        row.lead_days = self._of(row, "lead", _days, above.lead_days if above else self.terms.lead_days)
        row.until = self._of(row, "until", _day, above.until if above else self.terms.until)
        row.since = self._of(row, "since", _day, self.terms.since)
        self._check_days(row)
        start = self._of(row, "from", _whole, 1)
        per = self._of(row, "per", _per, self.terms.per)
        self._of(row, "minimum", lambda cell: self._minimum(cell, row), None)
        percent = self._of(row, "tax", lambda cell: self._percent(cell, row), None)
        self._of(row, "currency", self._currency, None)
        for at, amount in self.price_columns:
            kept = self._kept(number, at)
            if self._cell(number, at).blank:
                continue
            role = self.columns.roles[at]
            price = self._try(row, role, lambda kept=kept, per=per: self._price(kept, per, row, percent))
            if price is not None:
                row.prices.append((amount or start, price))
        row.state = WRONG if row.problems else RIGHT

    # Cells

    def _kept(self, number: int, at: int | None) -> Stored:
        cells = self.cells[number]
        return cells[at] if at is not None and at < len(cells) else ""

    def _cell(self, number: int, at: int | None) -> Cell:
        return restore(self._kept(number, at))

    def _cell_of(self, number: int, role: str) -> Cell:
        at = self.columns.at(role)
        return EMPTY if at is None else self._cell(number, at)

    def _text(self, row: ListRow, role: str, most: int) -> str:
        cell = self._cell_of(row.number, role)
        return self._try(row, role, lambda: as_text(cell, most=most)) or ""

    def _of(self, row: ListRow, role: str, how: Callable[[Cell], Any], empty: Any) -> Any:
        cell = self._cell_of(row.number, role)
        if cell.blank:
            return empty
        found = self._try(row, role, lambda: how(cell))
        return empty if found is None else found

    def _try(self, row: ListRow, role: str, how: Callable[[], Any]) -> Any:
        try:
            return how()
        except CellError as error:
            row.problems[role] = str(error)
            return None

    # What they say

    def _length(self, cell: Cell) -> Decimal:
        return as_length(cell, self.unit, told=self.told)

    def _length_of_name(self, row: ListRow) -> Decimal | None:
        """A length with its unit at the end of the name: 1-3/8 rail, 10 ft."""
        found = _LENGTH_AT_END.search(row.name)
        if not found:
            return None
        with suppress(LengthError):
            return parse_length(found[1].replace("’", "'").replace("′", "'"), self.known.unit)
        return None

    def _check_length(self, row: ListRow) -> None:
        if row.material is None or "length" in row.problems:
            return
        try:
            check_length(row.material, row.length)
            check_longest(row.material, row.length)
        except ValidationError as error:
            row.problems["length"] = " ".join(error.messages)

    def _check_days(self, row: ListRow) -> None:
        if row.since and row.since > self.terms.since and self.columns.at("since") is not None:
            shown = row.since.isoformat()
            row.problems["since"] = gettext(
                "This price holds from %(shown)s only. Leave the row out, and read the list that day."
            ) % {"shown": shown}
        if row.until and row.since and row.until < row.since:
            row.problems["until"] = gettext("This price ended on %(isoformat)s. Ask for one that holds.") % {
                "isoformat": row.until.isoformat()
            }

    def _minimum(self, cell: Cell, row: ListRow) -> int:
        least = as_quantity(cell)
        if least > row.pack:
            raise CellError(
                gettext(
                    "At least %(least)s are sold at once, in packs of %(pack)s. Orders keep to packs alone: "
                    "make it the pack, or choose not to read this column."
                )
                % {"least": format_count(least), "pack": format_count(row.pack)}
            )
        return least

    def _percent(self, cell: Cell, row: ListRow) -> Decimal:
        text = cell.text.removesuffix("%").strip() if isinstance(cell.value, str) else ""
        percent = as_money(Cell(text) if text else cell, places=6)
        own = self._own_percent(row)
        if percent not in (own, own / 100):
            raise CellError(
                gettext(
                    "The list says %(normalize)s %%, and you have %(normalize2)s %% for %(material)s. Correct "
                    "the material, or choose not to read this column."
                )
                % {
                    "normalize": format_decimal(percent.normalize()),
                    "normalize2": format_decimal(own.normalize()),
                    "material": row.material,
                }
            )
        return own

    def _own_percent(self, row: ListRow) -> Decimal:
        own = row.material.tax_percent if row.material else None
        return self.organisation.tax_percent if own is None else own

    def _currency(self, cell: Cell) -> str:
        said = as_text(cell)
        if not _is_own(said, self.organisation.currency):
            raise CellError(self._other_money(said))
        return said

    def _other_money(self, said: str) -> str:
        own = self.organisation.currency
        return gettext(
            "This price is in %(said)s, and yours are in %(own)s. Ask for a list in %(own2)s, or work the prices out."
        ) % {"said": said, "own": own, "own2": own}

    def _price(self, kept: Stored, per: str, row: ListRow, percent: Decimal | None) -> Decimal:
        cell, own = restore(kept), self.organisation.currency
        if (said := sign_of(kept)) and not _is_own(said, own):
            raise CellError(self._other_money(said))
        if isinstance(cell.value, str) and not (cell.formula or cell.error):
            text, per = self._without_per(cell.text, per)
            if (other := _money_said(text)) and not _is_own(other, own):
                raise CellError(self._other_money(other))
            cell = Cell(_without_sign(text))
        amount = as_money(cell)
        if not amount:
            raise CellError(gettext("A price of 0 is no price. Type what one costs, or leave the row out."))
        price = amount * self._share(per, row)
        taxed = self.organisation.prices_include_tax if self.terms.taxed is None else self.terms.taxed
        if taxed != self.organisation.prices_include_tax:
            rate = 1 + self._own_percent(row) / 100
            price = price / rate if taxed else price * rate
        price = price.quantize(FINEST, ROUND_HALF_UP)
        if not price:
            raise CellError(gettext("That is less than 0.0001 for one piece, the least that is kept."))
        if price >= 10**9:
            raise CellError(
                gettext("That is %(value)s or more for one piece. Look at what the price is for.")
                % {"value": format_count(10**9)}
            )
        return price

    def _without_per(self, text: str, per: str) -> tuple[str, str]:
        """14.60/ft: the amount, and what it is for."""
        found = _PER_END.search(text)
        if not found:
            return text, per
        said = PERS.get(plain(found[1]))
        if said is None:
            raise CellError(
                gettext("“%(found)s” is not known. A price is for one piece, a pack, a foot, a metre, 100 or 1,000.")
                % {"found": found[1]}
            )
        return text[: found.start()], said

    def _share(self, per: str, row: ListRow) -> Decimal:
        """By which a price becomes that of one piece."""
        if per in (FOOT, METRE):
            if row.length is None:
                raise CellError(gettext("A price for one %(per)s needs the length of a piece.") % {"per": per})
            return row.length / (Decimal("304.8") if per == FOOT else Decimal(1000))
        return {PIECE: Decimal(1), PACK: 1 / Decimal(row.pack), HUNDRED: Decimal("0.01"), THOUSAND: Decimal("0.001")}[
            per
        ]


def _whole(cell: Cell) -> int:
    """From how many pieces; "50+" too."""
    if isinstance(cell.value, str) and not cell.formula:
        cell = Cell(cell.text.strip().rstrip("+").removeprefix(">=").removeprefix("≥").strip())
    return as_quantity(cell, least=1)


def _days(cell: Cell) -> int:
    """Days, or weeks where the cell says so."""
    found = _WEEKS.fullmatch(cell.text) if isinstance(cell.value, str) and not cell.formula else None
    times = 7 if found and found[2][0].casefold() in "ws" else 1
    if found:
        try:
            days = read_whole(found[1]) * times
        except NumberError:
            raise CellError(
                gettext("“%(text)s” is not a number of days. Type whole days, for example 10.") % {"text": cell.text}
            ) from None
    else:
        days = as_quantity(cell)
    if not 0 <= days <= MAX_LEAD_DAYS:
        raise CellError(gettext("Type days from 0 to %(most)s.") % {"most": MAX_LEAD_DAYS})
    return days


def _day(cell: Cell) -> date:
    day = as_date(cell)
    if not _EARLIEST <= day <= _LATEST:
        raise CellError(
            gettext("%(isoformat)s cannot be right. Type a day from %(year)s to %(year2)s.")
            % {"isoformat": day.isoformat(), "year": _EARLIEST.year, "year2": _LATEST.year}
        )
    return day


def _per(cell: Cell) -> str:
    text = plain(as_text(cell)).removeprefix("per ").removeprefix("/").strip(" .")
    if text in PERS:
        return PERS[text]
    raise CellError(
        gettext("“%(text)s” is not known. Type piece, pack, foot, metre, 100 or 1,000.") % {"text": cell.text}
    )


def _is_own(said: str, currency: str) -> bool:
    """A code, or a sign that money of that name has."""
    said = said.strip()
    if said.upper() in CURRENCIES:
        return said.upper() == currency
    names = _SIGNS.get(said)
    return names is None or any(name in CURRENCIES[currency].casefold() for name in names.split())


def _money_said(text: str) -> str:
    """The sign or code of money beside an amount."""
    found = re.search(r"[€£¥$]|\b[A-Z]{3}\b", text)
    return found[0] if found and (found[0] in _SIGNS or found[0] in CURRENCIES) else ""


def _without_sign(text: str) -> str:
    return text.replace(_money_said(text), "", 1).strip() if _money_said(text) else text


def heading_problem(columns: Columns, organisation: Organisation) -> str:
    """Where a heading over prices names other money than ours."""
    for at, _ in columns.prices():
        said = _money_said(columns.heads.get(at, ""))
        if said and not _is_own(said, organisation.currency):
            own = organisation.currency
            return gettext(
                "“%(heads)s” is in %(said)s, and your prices are in %(own)s. Ask for a list in %(own2)s."
            ) % {"heads": columns.heads[at], "said": said, "own": own, "own2": own}
    return ""


def role_label(role: str) -> str:
    if role.startswith("price:"):
        return gettext("Price from %(int)s pieces") % {"int": format_count(int(role[6:]))}
    return ROLES[role][0] if role in ROLES else gettext("Row")


def thing(row: ListRow) -> str:
    """1-3/8 rail, 10'."""
    if row.material is None:
        return row.name or row.code
    units = UnitSystem(row.material.organisation.unit_system)
    return str(row.material) if row.length is None else f"{row.material}, {format_length(row.length, units)}"
