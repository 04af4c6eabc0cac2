"""A lot as things to tap: circles one by one, in fives and in hundreds, so that any number is a few taps away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.http import QueryDict

from farmbuild.catalogue.models import Material
from farmbuild.measure import count_noun, format_count
from farmbuild.stock.models import Lot
from farmbuild.stock.words import noun_of

FIVE, HUNDRED = 5, 100
#: Up to so many every piece is a circle of its own; from so many on there are hundreds.
MAX_SINGLES, MIN_HUNDREDS = 40, 200
#: More hundreds than this are typed.
MAX_HUNDREDS = 20
#: Marks side by side.
ROW = 5


@dataclass(frozen=True)
class Tap:
    """``worth`` pieces; ``text`` stands in it, ``name`` is read out. ``held``: a house holds all of it."""

    worth: int
    text: str
    name: str
    held: bool


@dataclass(frozen=True)
class Taps:
    """``rows`` of marks; ``untapped`` pieces are beyond them and are typed."""

    rows: Sequence[Sequence[Tap]]
    there: str
    round: bool
    untapped: str
    held: bool


def worths(there: int) -> list[int]:
    """The largest first. Every number up to their sum can be tapped."""
    if there <= MAX_SINGLES:
        return [1] * there
    hundreds = min(MAX_HUNDREDS, there // HUNDRED - 1) if there >= MIN_HUNDREDS else 0
    rest = min(there - hundreds * HUNDRED, 2 * HUNDRED - 1)
    fives = rest // FIVE - 1
    return [HUNDRED] * hundreds + [FIVE] * fives + [1] * (rest - fives * FIVE)


def taps_of(lot: Lot) -> Taps | None:
    """None for what is counted and not measured: nobody takes screws one by one."""
    if not lot.on_hand or not lot.material.by_length:
        return None
    noun = noun_of(lot.material, offcut=lot.offcut)
    sizes = worths(lot.on_hand)
    marks, before = [], 0
    for worth in sizes:
        single = worth == 1
        text = str(before + 1 if len(sizes) == lot.on_hand else 1) if single else str(worth)
        held = before >= lot.free
        name = f"{noun} {text}" if single and len(sizes) == lot.on_hand else count_noun(worth, noun)
        marks.append(Tap(worth, text, f"{name}, held" if held else name, held))
        before += worth
    return Taps(
        _in_rows(marks),
        count_noun(lot.on_hand, noun),
        lot.material.kind not in (Material.Kind.LUMBER, Material.Kind.CHANNEL),
        format_count(lot.on_hand - before) if before < lot.on_hand else "",
        any(mark.held for mark in marks),
    )


def _in_rows(marks: Sequence[Tap]) -> list[list[Tap]]:
    """Fives of one worth; another worth begins a row."""
    rows: list[list[Tap]] = []
    for mark in marks:
        if not rows or len(rows[-1]) == ROW or rows[-1][0].worth != mark.worth:
            rows.append([])
        rows[-1].append(mark)
    return rows


def taken_in(query: QueryDict) -> str:
    """How many were tapped, or typed, in the address that led here; "" for none."""
    if typed := query.get("quantity"):
        return typed
    known = {str(worth): worth for worth in (1, FIVE, HUNDRED)}
    return str(sum(known.get(text, 0) for text in query.getlist("taken")) or "")
