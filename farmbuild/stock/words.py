"""Counts for reading."""

from __future__ import annotations

from collections.abc import Iterable

from farmbuild.catalogue.models import Material
from farmbuild.stock.selectors import Heap

_NOUNS = {
    Material.Kind.TUBE: "stick",
    Material.Kind.LUMBER: "board",
    Material.Kind.FILM: "roll",
    Material.Kind.CHANNEL: "length of channel",
}
_PLURALS = {"length of channel": "lengths of channel"}


def so_many(count: int, noun: str) -> str:
    """1 stick, 1,200 sticks."""
    return f"{count:,} {noun if count == 1 else _PLURALS.get(noun, noun + 's')}"


def noun_of(material: Material, *, offcut: bool) -> str:
    return "offcut" if offcut else _NOUNS.get(Material.Kind(material.kind), "piece")


def heaps_in_words(heaps: Iterable[Heap]) -> str:
    """58 sticks, 18 boards, 1 roll, 24 offcuts and 240 pieces."""
    sums: dict[str, int] = dict.fromkeys([*_NOUNS.values(), "offcut", "piece"], 0)
    for heap in heaps:
        sums[noun_of(heap.material, offcut=heap.offcut)] += heap.pieces
    texts = [so_many(count, noun) for noun, count in sums.items() if count]
    if not texts:
        return "all empty"
    return texts[0] if len(texts) == 1 else f"{', '.join(texts[:-1])} and {texts[-1]}"
