"""A list for reading: what its rows were understood as, and what it changes, as words that can be kept."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.lists.changes import CHANGED, GONE, NEW, SAME, Change
from farmbuild.catalogue.lists.columns import Columns
from farmbuild.catalogue.lists.rows import FINEST, LEFT, NO_PRICE, RIGHT, UNKNOWN, WRONG, ListRow, role_label
from farmbuild.catalogue.lists.understood import Understood
from farmbuild.catalogue.models import Material
from farmbuild.catalogue.words import breaks_in_words
from farmbuild.common.speaking import as_kept, said_count
from farmbuild.common.templatetags.farm import day, length_plain
from farmbuild.measure import format_count, format_signed
from farmbuild.orgs.models import Organisation
from farmbuild.workbooks.sheets import Stored, restore

WORDS = {
    NEW: gettext_lazy("New"),
    CHANGED: gettext_lazy("Changed"),
    SAME: gettext_lazy("As before"),
    GONE: gettext_lazy("No longer in the list"),
}
STATES = {
    RIGHT: gettext_lazy("Right"),
    WRONG: gettext_lazy("To correct"),
    UNKNOWN: gettext_lazy("Material not known"),
    LEFT: gettext_lazy("Left out"),
    NO_PRICE: gettext_lazy("No price, left out"),
}
_TERMS = {
    "pack": gettext_lazy("pack of"),
    "lead_days": gettext_lazy("days to deliver"),
    "until": gettext_lazy("valid until"),
    "code": gettext_lazy("item number"),
}


def _value(value: object) -> str:
    if value is None or value == "":
        return gettext("not said")
    return day(value) if isinstance(value, date) else format_count(value) if isinstance(value, int) else str(value)


def material_words(material: Material, length: Any, organisation: Organisation) -> str:
    return str(material) if length is None else f"{material}, {length_plain(length, organisation)}"


def change_row(change: Change, organisation: Organisation, *, end: bool = False) -> dict[str, Any]:
    currency = organisation.currency
    percent = change.percent
    terms = [
        gettext("%(term)s: %(was)s, now %(now)s") % {"term": _TERMS[name], "was": _value(was), "now": _value(now)}
        for name, (was, now) in change.terms.items()
    ]
    if change.kind == GONE:
        terms = [gettext("ends the day before") if end else gettext("stays as it is")] if end is not None else []
    return {
        "kind": change.kind,
        "words": str(WORDS[change.kind]),
        "row": change.row,
        "thing": material_words(change.material, change.length, organisation),
        "material": change.material.code,
        "was": breaks_in_words(change.was, currency),
        "now": breaks_in_words(change.now, currency),
        "percent": "" if percent is None else f"{format_signed(percent, 2 if percent % 1 else 0)} %",
        "terms": terms,
        "far": change.far,
    }


def change_rows(found: Understood, *, end: bool) -> list[dict[str, Any]]:
    """Of a list that is taken over; what stays the same is counted alone."""
    rows = [change for change in found.changes if change.kind != SAME]
    organisations = [change.material.organisation for change in found.changes]
    with as_kept():
        return [change_row(change, organisations[0], end=end) for change in rows]


def fingerprint(found: Understood) -> str:
    """Of all that taking over would do."""
    told = [
        [
            change.kind,
            change.row,
            change.material.pk,
            str(change.length),
            change.offer and change.offer.pk,
            [(amount, str(price.quantize(FINEST))) for amount, price in change.was],
            [(amount, str(price.quantize(FINEST))) for amount, price in change.now],
            {name: [str(value) for value in pair] for name, pair in change.terms.items()},
            change.listed
            and [change.listed.lead_days, str(change.listed.until), change.listed.pack, change.listed.code],
        ]
        for change in found.changes
    ]
    said = [told, str(found.terms.since), [row.number for row in found.rows if row.state == LEFT]]
    return sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


def answer(found: Understood) -> str:
    """At most 18 words."""
    if found.problem:
        return found.problem
    wrong, unknown = len(found.of(WRONG)), len(found.of(UNKNOWN))
    if wrong or unknown:
        parts = [gettext("%(wrong)s to correct") % {"wrong": format_count(wrong)}] * bool(wrong)
        parts += [gettext("%(unknown)s of no known material") % {"unknown": format_count(unknown)}] * bool(unknown)
        return gettext("%(rows)s: %(join)s; nothing is taken over yet.") % {
            "rows": said_count(len(found.rows), "row"),
            "join": ", ".join(parts),
        }
    new, changed, gone = (len(found.kind(kind)) for kind in (NEW, CHANGED, GONE))
    if not (new or changed or gone):
        return gettext("Nothing changes: %(kind)s as before.") % {"kind": said_count(len(found.kind(SAME)), "offer")}
    told = gettext("%(new)s new, %(changed)s changed, %(gone)s no longer in it") % {
        "new": format_count(new),
        "changed": format_count(changed),
        "gone": format_count(gone),
    }
    return gettext("%(told)s; not taken over yet.") % {"told": told}


def taken_answer(changes: Sequence[dict[str, Any]]) -> str:
    counts = {kind: sum(row["kind"] == kind for row in changes) for kind in (NEW, CHANGED, GONE)}
    if not any(counts.values()):
        return gettext("Taken over; it changed nothing.")
    return gettext("Taken over: %(counts)s new, %(counts2)s changed, %(counts3)s no longer in it.") % {
        "counts": counts[NEW],
        "counts2": counts[CHANGED],
        "counts3": counts[GONE],
    }


@dataclass(frozen=True)
class ShownRow:
    """``problems``: name and letter of the column, and sentence. ``choice``: what was chosen for it."""

    number: int
    state: str
    words: str
    typed: str
    thing: str
    length: SafeString | str
    pack: str
    prices: str
    lead: str
    problems: list[tuple[str, str]]
    choice: str
    under: int
    asks: bool


def shown_row(row: ListRow, columns: Columns, organisation: Organisation, choices: dict[str, str]) -> ShownRow:
    choice = choices.get(str(row.number), "")
    return ShownRow(
        number=row.number,
        state=row.state,
        words=STATES[row.state],
        typed=" ".join(filter(None, (row.code, row.name))),
        thing=str(row.material or ""),
        length="" if row.length is None else length_plain(row.length, organisation),
        pack=format_count(row.pack) if row.material else "",
        prices=breaks_in_words(sorted(row.prices), organisation.currency),
        lead=gettext("not known") if row.lead_days is None else format_count(row.lead_days),
        problems=[(_where(role, columns), sentence) for role, sentence in row.problems.items()],
        choice=choice,
        under=row.under,
        asks=bool(choice) or row.state in (WRONG, UNKNOWN),
    )


def letter(at: int) -> str:
    """Of a column, as spreadsheets name it; no list has more than two letters' worth."""
    return chr(65 + at) if at < 26 else chr(64 + at // 26) + chr(65 + at % 26)


def _where(role: str, columns: Columns) -> str:
    """Price, column D."""
    at = columns.at(role)
    name = role_label(role)
    return name if at is None else gettext("%(name)s, column %(letter)s") % {"name": name, "letter": letter(at)}


def samples(rows: Sequence[tuple[int, Sequence[Stored]]], head: int, at: int) -> str:
    """The first values under a column."""
    found = [
        restore(cells[at]).shown for number, cells in rows if number > head and at < len(cells) and cells[at] != ""
    ]
    return ", ".join(text[:30] for text in found[:3])
