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


def sum_noun(heap: Heap) -> str:
    kind = Material.Kind(heap.material.kind)
    return (_OFFCUTS if heap.offcut else _NOUNS).get(kind, "offcut")


def _sums(heaps: Iterable[Heap]) -> dict[str, list[int]]:
    """Pieces and of them held ones of each noun that there is."""
    sums: dict[str, list[int]] = {
        noun: [0, 0] for noun in (*PIECE_NOUNS.values(), *_OFFCUTS.values(), *_COUNTED.values())
    }
    for heap in heaps:
        for at, count in enumerate((heap.pieces, heap.held)):
            sums.setdefault(sum_noun(heap), [0, 0])[at] += count
    return {noun: counts for noun, counts in sums.items() if counts[0]}


def are_alike(heaps: Iterable[Heap]) -> bool:
    """Whether one noun says them all, so that their pieces may be added."""
    return len(_sums(heaps)) <= 1


def heaps_in_words(heaps: Iterable[Heap]) -> str:
    """58 sticks, 18 boards, 1 roll, 24 stick offcuts and 240 fasteners."""
    texts = [count_noun(pieces, noun) for noun, (pieces, _) in _sums(heaps).items()]
    return join_words(texts) or "all empty"


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
