"""Counts for reading."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils.translation import gettext

from farmbuild.catalogue.models import Material
from farmbuild.catalogue.words import PIECE_NOUNS, piece_noun
from farmbuild.common.speaking import said_count, said_list
from farmbuild.measure import format_count
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.stock.selectors import Heap

#: What a sum calls them: unlike things are never added.
_COUNTED = {
    Material.Kind.FASTENER: _("fastener"),
    Material.Kind.ANCHOR: _("anchor"),
    Material.Kind.HARDWARE: _("piece of hardware"),
}
_OFFCUTS = {
    Material.Kind.TUBE: _("stick offcut"),
    Material.Kind.LUMBER: _("board offcut"),
    Material.Kind.FILM: _("film offcut"),
    Material.Kind.CHANNEL: _("channel offcut"),
}
_NOUNS = PIECE_NOUNS | _COUNTED
#: The same of many.
MANY = (
    _("fasteners"), _("anchors"), _("pieces of hardware"), _("stick offcuts"), _("board offcuts"), _("film offcuts"),
    _("channel offcuts"),
)  # fmt: skip


def material_words(material: Material, *, offcut: bool) -> str:
    return gettext("%(material)s (offcut)") % {"material": material} if offcut else str(material)


def noun_of(material: Material, *, offcut: bool) -> str:
    return "offcut" if offcut else piece_noun(material.kind)


def sum_noun(kind: str, *, offcut: bool) -> str:
    """What a sum calls what has that kind; each noun adds like things alone."""
    return (_OFFCUTS if offcut else _NOUNS).get(Material.Kind(kind), "offcut")


def things_in_words(rows: Iterable[tuple[str, bool, int]]) -> str:
    """58 sticks, 18 boards, 1 roll, 24 stick offcuts and 240 fasteners; of kinds, whether offcuts, and pieces."""
    sums = dict.fromkeys([*PIECE_NOUNS.values(), *_OFFCUTS.values(), *_COUNTED.values()], 0)
    for kind, offcut, pieces in rows:
        noun = sum_noun(kind, offcut=offcut)
        sums[noun] = sums.get(noun, 0) + pieces
    return said_list(said_count(pieces, noun) for noun, pieces in sums.items() if pieces)


def _sums(heaps: Iterable[Heap]) -> dict[str, list[int]]:
    """Pieces and of them held ones of each noun that there is."""
    nouns = (*PIECE_NOUNS.values(), *_OFFCUTS.values(), *_COUNTED.values())
    sums: dict[str, list[int]] = {noun: [0, 0] for noun in nouns}
    for heap in heaps:
        for at, count in enumerate((heap.pieces, heap.held)):
            sums.setdefault(sum_noun(heap.material.kind, offcut=heap.offcut), [0, 0])[at] += count
    return {noun: counts for noun, counts in sums.items() if counts[0]}


def are_alike(heaps: Iterable[Heap]) -> bool:
    """Whether one noun says them all, so that their pieces may be added."""
    return len(_sums(heaps)) <= 1


def heaps_in_words(heaps: Iterable[Heap]) -> str:
    return things_in_words((heap.material.kind, heap.offcut, heap.pieces) for heap in heaps) or gettext("all empty")


def lead_of(heaps: Iterable[Heap]) -> str:
    """58 sticks in stock: 40 held for houses, 18 free. Of what comes first in ``heaps_in_words``."""
    for noun, (pieces, held) in _sums(heaps).items():
        if not held:
            state = gettext("all free") if pieces > 1 else gettext("free")
        elif held == pieces:
            state = gettext("all held for houses") if pieces > 1 else gettext("held for a house")
        else:
            state = gettext("%(held)s held for houses, %(free)s free") % {
                "held": format_count(held),
                "free": format_count(pieces - held),
            }
        return gettext("%(pieces)s in stock: %(state)s") % {"pieces": said_count(pieces, noun), "state": state}
    return ""
