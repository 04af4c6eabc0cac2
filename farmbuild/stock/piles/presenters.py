"""Piles as a page shows them: words that reflow beside drawings on one scale."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.safestring import SafeString

from farmbuild.catalogue.models import Material
from farmbuild.common.lengths import length_pair
from farmbuild.measure import format_count
from farmbuild.orgs.models import Organisation
from farmbuild.stock.piles.drawings import drawn_shares, pile_drawing, scale_for
from farmbuild.stock.piles.selectors import Pile, Piled, Rest
from farmbuild.stock.piles.words import coming_words, pile_words, rest_words, state_words
from farmbuild.stock.words import noun_of


@dataclass(frozen=True)
class ShownPile:
    count: str
    length: Decimal | None
    state: str
    coming: str
    drawing: SafeString
    offcut: bool
    #: What no square had room for.
    unseen: str


@dataclass(frozen=True)
class ShownPiles:
    """One material; ``counted``: what has no length and is said in words alone."""

    material: Material
    href: str
    piles: Sequence[ShownPile]
    rests: Sequence[str]
    counted: bool


@dataclass(frozen=True)
class Picture:
    """``drawn``: what comes by length; ``counted``: the rest. ``hundreds``: a square stands for a hundred somewhere."""

    drawn: Sequence[ShownPiles]
    counted: Sequence[ShownPiles]
    hundreds: bool
    coming: bool
    offcuts: bool

    def __bool__(self) -> bool:
        return bool(self.drawn or self.counted)


def _is_film(material: Material) -> bool:
    return material.kind == Material.Kind.FILM


def lots_link(material: Material) -> str:
    """The stock of that material alone."""
    return f"{reverse('stock:lots')}?{urlencode({'material': material.code})}"


def picture_of(rows: Iterable[Piled], *, organisation: Organisation) -> Picture:
    """Sticks, boards and channel share a scale; film, which is many times as long, has its own."""
    rows = list(rows)
    every = [pile for row in rows for pile in (*row.whole, *row.offcuts)]
    longest = {film: _longest(pile for pile in every if _is_film(pile.material) is film) for film in (False, True)}
    shown = [_shown(row, scale_for(longest[_is_film(row.material)]), organisation) for row in rows]
    return Picture(
        [one for one in shown if not one.counted],
        [one for one in shown if one.counted],
        any(share.squares for pile in every if pile.length for share in drawn_shares(pile).values()),
        any(pile.coming for pile in every),
        any(pile.offcut for pile in every),
    )


def _longest(piles: Iterable[Pile]) -> Decimal:
    return max((pile.length for pile in piles if pile.length), default=Decimal(1))


def _shown(row: Piled, scale: float, organisation: Organisation) -> ShownPiles:
    piles = [_one(pile, scale, organisation) for pile in (*row.whole, *row.offcuts)]
    rests = [_rest(rest, row.material, offcut=offcut) for offcut, rest in enumerate((row.whole_rest, row.offcuts_rest))]
    return ShownPiles(row.material, lots_link(row.material), piles, [text for text in rests if text], not row.by_length)


def _rest(rest: Rest | None, material: Material, *, offcut: int) -> str:
    return rest_words(rest, noun_of(material, offcut=bool(offcut))) if rest else ""


def _one(pile: Pile, scale: float, organisation: Organisation) -> ShownPile:
    title = str(pile.material)
    if pile.length is not None:
        title += ", {} ({})".format(*length_pair(pile.length, organisation.unit_system))
    words = pile_words(pile)
    drawing = SafeString("")
    unseen = 0
    if pile.length is not None:
        drawing = pile_drawing(pile, scale=scale, title=title, told=f"{words}.")
        unseen = 0 if pile.offcut else sum(share.unseen for share in drawn_shares(pile).values())
    return ShownPile(
        format_count(pile.there) if pile.there else "",
        pile.length,
        state_words(pile),
        coming_words(pile.coming),
        drawing,
        pile.offcut,
        f"and {format_count(unseen)} more" if unseen else "",
    )
