"""What the page of the form of a house shows besides its fields: the folded parts, each with its line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.forms import BoundField
from django.utils.text import slugify

from farmbuild.sites.bridge import section_words_of
from farmbuild.sites.forms import HouseForm
from farmbuild.sites.own_rows import NAME as OWN_ROWS
from farmbuild.sites.own_rows import OwnRows, own_rows_words

#: How a part with something to correct begins its line.
WRONG = "to correct: "
_OWN_ROWS_PLACE = "own-rows"


@dataclass(frozen=True)
class FoldedPart:
    """``words``: its line. ``wrong``: something in it was refused, so it stands open."""

    title: str
    words: str
    fields: list[BoundField]
    wrong: bool

    @property
    def slug(self) -> str:
        return slugify(self.title)


@dataclass(frozen=True)
class FoldedForm:
    """``asked``: the fields that stand open."""

    asked: list[BoundField]
    parts: list[FoldedPart]
    own_rows: str
    own_rows_wrong: bool
    own_rows_open: bool

    @property
    def lines(self) -> dict[str, str]:
        """By the place on the page."""
        return {part.slug: part.words for part in self.parts} | {_OWN_ROWS_PLACE: self.own_rows}

    @property
    def wrong(self) -> list[str]:
        """Places that have something to correct."""
        found = [part.slug for part in self.parts if part.wrong]
        return [*found, _OWN_ROWS_PLACE] if self.own_rows_wrong else found


def folded_form(form: HouseForm, rows: OwnRows, problems: Mapping[str, list[str]] | None = None) -> FoldedForm:
    """The first field that was refused, open or folded, is the one to go to.

    ``problems``: what is told by field, where that is not what the form refused.
    """
    told = form.errors if problems is None else problems
    said = section_words_of(form.typed(), form.organisation.unit_system)
    parts = []
    for title, names in form.groups:
        if title and names:
            refused = next((name for name in names if told.get(name)), "")
            words = f"{WRONG}{told[refused][0]}" if refused else said[title]
            parts.append(FoldedPart(title, words, [form[name] for name in names], bool(refused)))
    in_order = [*form.asked, *(name for title, names in form.groups if title for name in names)]
    first = [form.fields[name] for name in in_order if form.errors.get(name)]
    first += [row.fields[name] for row in rows.forms for name in row.errors if name in row.fields]
    if first:
        first[0].widget.attrs["autofocus"] = True
    of_rows = [*rows.wrong(), *rows.problems, *told.get(OWN_ROWS, [])]
    return FoldedForm(
        asked=[form[name] for name in form.asked],
        parts=parts,
        own_rows=f"{WRONG}{of_rows[0]}" if of_rows else own_rows_words(rows.typed(), form.organisation.unit_system),
        own_rows_wrong=bool(of_rows),
        own_rows_open=rows.asked_more or bool(of_rows),
    )
