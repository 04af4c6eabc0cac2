"""The page of the form of a house: its folded parts, each with its line, and when what was typed is right."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.forms import BoundField
from django.http import HttpRequest
from django.utils.text import slugify
from django.utils.translation import gettext

from farmbuild.common.speaking import said
from farmbuild.sites.bridge import section_words_of
from farmbuild.sites.forms import HouseForm
from farmbuild.sites.own_rows import NAME as OWN_ROWS
from farmbuild.sites.own_rows import OwnRows, own_rows_words

#: The button that asks for more rows of its own.
MORE = "more_rows"
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
    lines = section_words_of(form.typed(), form.organisation.unit_system)
    parts = []
    for title, names in form.groups:
        if title and names:
            refused = next((name for name in names if told.get(name)), "")
            words = gettext("to correct: %(told)s") % {"told": told[refused][0]} if refused else said(lines[title])
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
        own_rows=gettext("to correct: %(told)s") % {"told": of_rows[0]}
        if of_rows
        else own_rows_words(rows.typed(), form.organisation.unit_system),
        own_rows_wrong=bool(of_rows),
        own_rows_open=rows.asked_more or bool(of_rows),
    )


def both_right(form: HouseForm, rows: OwnRows, request: HttpRequest) -> bool:
    """Whether the house may be stored; not where only more rows were asked for."""
    if MORE in request.POST:
        # Read as far as it can be, for the drawing and the lines of the parts.
        form.full_clean()
        rows.is_valid()
        form._errors = {}
        rows.forget_errors()
        return False
    # Both say what is wrong with them, so that it is told at once.
    right = [form.is_valid(), rows.is_valid() or not rows.is_bound]
    if form.is_bound and all(right):
        form.rows = rows if rows.is_bound else None
        return True
    _tell_of_rows(form, rows)
    return False


def add_row_errors(form: HouseForm, rows: OwnRows, error: ValidationError) -> None:
    """Each at its row, and the rest at the fields."""
    if rest := rows.add_errors(error):
        form.add_error(None, rest)
    _tell_of_rows(form, rows)


def _tell_of_rows(form: HouseForm, rows: OwnRows) -> None:
    """What is wrong with the rows stands at the top of the page too."""
    if form.is_bound and rows.is_bound:
        for told in [*rows.wrong(), *rows.problems]:
            form.add_error(None, told)
