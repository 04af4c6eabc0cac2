"""Counts for reading."""

from __future__ import annotations

from collections.abc import Iterable

from farmbuild.catalogue.models import Material
from farmbuild.catalogue.words import PIECE_NOUNS, piece_noun
from farmbuild.measure import count_noun, format_count, join_words
from farmbuild.stock.selectors import Heap

#: What a sum calls them: unlike things are never added.
_COUNTED = {
    Material.Kind.FASTENER: "fastener",
    Material.Kind.ANCHOR: "anchor",
    Material.Kind.HARDWARE: "piece of hardware",
}
_OFFCUTS = {
    Material.Kind.TUBE: "stick offcut",
    Material.Kind.LUMBER: "board offcut",
    Material.Kind.FILM: "film offcut",
    Material.Kind.CHANNEL: "channel offcut",
}
_NOUNS = PIECE_NOUNS | _COUNTED


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
    return join_words(count_noun(pieces, noun) for noun, pieces in sums.items() if pieces)


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
    return things_in_words((heap.material.kind, heap.offcut, heap.pieces) for heap in heaps) or "all empty"


def lead_of(heaps: Iterable[Heap]) -> str:
    """58 sticks in stock: 40 held for houses, 18 free. Of what comes first in ``heaps_in_words``."""
    for noun, (pieces, held) in _sums(heaps).items():
        if not held:
            state = "all free" if pieces > 1 else "free"
        elif held == pieces:
            state = "all held for houses" if pieces > 1 else "held for a house"
        else:
            state = f"{format_count(held)} held for houses, {format_count(pieces - held)} free"
        return f"{count_noun(pieces, noun)} in stock: {state}"
    return ""
