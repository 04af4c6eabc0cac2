"""What each column of a supplier's list is: by its heading, else by what stands in it; the person has the last word."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field

from django.utils.translation import gettext, gettext_lazy

from farmbuild.measure import NumberError, format_count, read_decimal
from farmbuild.measure.currencies import CURRENCIES
from farmbuild.workbooks.headings import key, nearest
from farmbuild.workbooks.reading import Cell

#: The heading row is looked for in the first rows, below a letterhead.
HEADING_ROWS = 20
#: What a column can be, and headings by which it is known: English, German, French, Spanish (from memory).
ROLES: dict[str, tuple[str, str]] = {
    "code": (
        gettext_lazy("Supplier’s item number"),
        "supplier's item number; item number; item no; item code; item; sku; part number; part no; part; article;"
        " article number; article no; code; product code; ref; reference; stock number; number; no; nr;"
        " artikelnummer; artikel nr; art nr; référence; code article; código; referencia",
    ),
    "our": (
        gettext_lazy("Our short name"),
        "our short name; short name; your code; your item number; our code; your reference",
    ),
    "name": (
        gettext_lazy("What it is"),
        "description; what it is; name; product; product name; material; item description; goods; text;"
        " bezeichnung; beschreibung; artikelbezeichnung; désignation; libellé; descripción; denominación",
    ),
    "length": (
        gettext_lazy("Length of one"),
        "length of one; length; stick length; piece length; stock length; länge; longueur; largo; longitud",
    ),
    "pack": (
        gettext_lazy("Pieces in a pack"),
        "pieces in a pack; pack; pack size; pack qty; pack quantity; per pack; box qty; carton qty; bundle; units per"
        " pack; pcs per pack; ve; verpackungseinheit; conditionnement; unidades por paquete",
    ),
    "price": (
        gettext_lazy("Price"),
        "price; price of one; unit price; price each; each; net price; list price; your price; cost; unit cost; price"
        " per piece; preis; einzelpreis; stückpreis; nettopreis; prix; prix unitaire; prix ht; precio;"
        " precio unitario",
    ),
    "per": (
        gettext_lazy("Price is for"),
        "price is for; per; unit; uom; unit of measure; price unit; einheit; unité; unidad",
    ),
    "from": (
        gettext_lazy("From quantity"),
        "from quantity; from; from qty; quantity from; qty from; min qty break; break; price break; break quantity;"
        " quantity; qty; ab menge; ab; à partir de; desde; cantidad",
    ),
    "minimum": (
        gettext_lazy("Smallest quantity"),
        "smallest quantity; minimum; minimum order; minimum quantity; min order; min qty; moq; mindestmenge; quantité"
        " minimum; mínimo",
    ),
    "lead": (
        gettext_lazy("Days to deliver"),
        "days to deliver; lead time; lead time days; lead days; delivery; delivery time; delivery days; days;"
        " lieferzeit; lieferzeit tage; délai; délai de livraison; plazo; plazo de entrega",
    ),
    "since": (
        gettext_lazy("Valid from"),
        "valid from; effective; effective from; effective date; price from; gültig ab; valable à"
        " partir du; válido desde",
    ),
    "until": (
        gettext_lazy("Valid until"),
        "valid until; valid to; expires; expiry; good until; gültig bis; valable jusqu'au; válido hasta",
    ),
    "tax": (gettext_lazy("Tax, percent"), "tax; tax percent; tax %; vat; vat %; vat rate; gst; mwst; ust; tva; iva"),
    "currency": (gettext_lazy("Currency"), "currency; cur; währung; devise; moneda; divisa"),
}
KNOWN = {key(name): role for role, (_, names) in ROLES.items() for name in names.split(";")}
#: So many columns with a known heading make a row of headings.
_HEADINGS = 2
_LONG = 6
_AMOUNT = re.compile(r"(?<![\d.,])(\d{1,6})(?![\d.,])")
_FROM_AMOUNT = re.compile(
    r"^(?:price )?(?:from |ab |≥ ?|>= ?|à partir de |desde )?\d{1,6} ?(?:\+|and more|[-– ] ?\d{1,6}|up)?"
    r" ?(?:pcs|pieces|stk|each|pc)?$"
)
PIECE, PACK, FOOT, METRE, HUNDRED, THOUSAND = "piece", "pack", "foot", "metre", "100", "1000"
PER_LABELS = {
    PIECE: gettext_lazy("one piece"),
    PACK: gettext_lazy("one pack"),
    FOOT: gettext_lazy("one foot"),
    METRE: gettext_lazy("one metre"),
    HUNDRED: "100 pieces",
    THOUSAND: "1,000 pieces",
}
_PER_WORDS = {
    PIECE: "each ea e piece pieces pc pcs unit units 1 one stick sticks length roll board stk stück st st. pièce u un"
    " pieza ud",
    PACK: "pack packs pk pkt package box bx carton ctn bundle bdl packung paket paquet paquete caja",
    FOOT: "ft foot feet lf ' lin.ft",
    METRE: "m metre metres meter meters lm m. lfm mètre metro",
    HUNDRED: "100 c hundred /100 %",
    THOUSAND: "1000 1,000 thousand mille",
}
PERS = {word: per for per, words in _PER_WORDS.items() for word in words.split()}


@dataclass
class Columns:
    """``roles`` by column, counted from 0; a price for a quantity of its heading is ``price:50``. ``head``: the number
    of the row of headings, 0 for none. ``heads``: what stands over each column."""

    head: int
    roles: dict[int, str]
    heads: dict[int, str] = field(default_factory=dict)

    def at(self, role: str) -> int | None:
        return next((at for at, name in self.roles.items() if name == role), None)

    def prices(self) -> Iterator[tuple[int, int | None]]:
        """Columns of prices, and from how many pieces where the heading says so."""
        for at, role in sorted(self.roles.items()):
            if role == "price" or role.startswith("price:"):
                yield at, int(role[6:]) if role != "price" else None


def labels(heads: Mapping[int, str], at: int) -> list[tuple[str, str]]:
    """What the person may choose for a column."""
    found = [("", gettext("Not read"))] + [(role, label) for role, (label, _) in ROLES.items()]
    if (amount := amount_of(heads.get(at, ""))) is not None:
        found.append((f"price:{amount}", gettext("Price from %(amount)s pieces") % {"amount": format_count(amount)}))
    return found


def amount_of(heading: str) -> int | None:
    """From how many pieces the price under this heading holds: 50 of "50+", "from 50" or "50-199"."""
    found = _AMOUNT.search(heading)
    return int(found[1]) if found and int(found[1]) else None


def role_of(heading: str) -> str:
    """By the words of a heading, its currency and unit aside; "" where it says nothing known."""
    said = key(heading)
    if not said:
        return ""
    if _FROM_AMOUNT.match(said):
        return f"price:{amount_of(heading)}"
    for text in (said, said.rpartition(", ")[0], " ".join(w for w in said.split() if w.upper() not in CURRENCIES)):
        text = text.strip(" ,")
        if text in KNOWN:
            return KNOWN[text]
    if said.startswith(("price from ", "price of one from ")) and amount_of(heading):
        return f"price:{amount_of(heading)}"
    # Of short words anything is near.
    close = nearest(said, [name for name in KNOWN if len(name) >= _LONG]) if len(said) >= _LONG else ""
    return KNOWN.get(close, "")


def guess(rows: Sequence[tuple[int, Sequence[Cell]]], *, codes: Collection[str], names: Collection[str]) -> Columns:
    """``codes`` and ``names``: of what is known of this supplier and of our materials, casefolded."""
    best, found = 0, {}
    for number, cells in rows[:HEADING_ROWS]:
        roles = _roles(cells)
        if len(roles) >= _HEADINGS and len(roles) > len(found):
            best, found = number, roles
    heads = {}
    for number, cells in rows:
        if number == best:
            heads = {at: cell.text for at, cell in enumerate(cells) if not cell.blank}
    columns = Columns(best, found, heads)
    _by_content(columns, [cells for number, cells in rows if number > best][:200], codes, names)
    return columns


def _roles(cells: Sequence[Cell]) -> dict[int, str]:
    """Each role once; of two alike the first."""
    found: dict[int, str] = {}
    for at, cell in enumerate(cells):
        role = "" if cell.blank or cell.number is not None else role_of(cell.text)
        if role and role not in found.values():
            found[at] = role
    return found


def _by_content(
    columns: Columns, rows: Sequence[Sequence[Cell]], codes: Collection[str], names: Collection[str]
) -> None:
    """A price, a name and an item number that no heading names, by what stands under it."""
    width = max(map(len, rows), default=0)
    under = {
        at: [row[at] for row in rows if at < len(row) and not row[at].blank]
        for at in range(width)
        if at not in columns.roles
    }
    known = {at: sum(c.text.casefold() in codes for c in cells) / len(cells) for at, cells in under.items() if cells}
    _put(columns, under, "code", {at: share for at, share in known.items() if share >= 0.5})
    words = {
        at: sum(len(cell.text) for cell in cells) / len(cells) + 100 * any(c.text.casefold() in names for c in cells)
        for at, cells in under.items()
        if cells and sum(_number(cell) is None for cell in cells) > len(cells) / 2
    }
    _put(columns, under, "name", {at: length for at, length in words.items() if length >= 5})
    if not any(columns.prices()):
        amounts = {
            # A price has a sign or decimals; the last such column is the one to pay.
            at: sum(_like_money(cell) for cell in cells) / len(cells) + at / 1000
            for at, cells in under.items()
            if cells and sum(_like_money(cell) for cell in cells) > len(cells) / 2
        }
        _put(columns, under, "price", amounts)


def _put(columns: Columns, under: dict[int, list[Cell]], role: str, scores: Mapping[int, float]) -> None:
    if columns.at(role) is None and scores:
        at = max(scores, key=lambda column: scores[column])
        columns.roles[at] = role
        under.pop(at, None)


def _number(cell: Cell) -> object | None:
    if cell.number is not None:
        return cell.number
    with suppress(NumberError):
        return read_decimal(cell.text)
    return None


def _like_money(cell: Cell) -> bool:
    if cell.number is not None:
        return cell.number != cell.number.to_integral_value()
    return bool(re.search(r"[€£¥$]|\d[.,]\d{2,4}\b", cell.text)) and any(sign.isdigit() for sign in cell.text)
