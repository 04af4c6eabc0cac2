"""Counts for reading."""

from __future__ import annotations

from collections.abc import Iterable

from farmbuild.catalogue.models import Material
from farmbuild.catalogue.words import PIECE_NOUNS, piece_noun
from farmbuild.measure import count_noun, join_words
from farmbuild.stock.selectors import Heap


def noun_of(material: Material, *, offcut: bool) -> str:
    return "offcut" if offcut else piece_noun(material.kind)


def heaps_in_words(heaps: Iterable[Heap]) -> str:
    """58 sticks, 18 boards, 1 roll, 24 offcuts and 240 pieces."""
    sums: dict[str, int] = dict.fromkeys([*PIECE_NOUNS.values(), "offcut", "piece"], 0)
    for heap in heaps:
        sums[noun_of(heap.material, offcut=heap.offcut)] += heap.pieces
    texts = [count_noun(count, noun) for noun, count in sums.items() if count]
    return join_words(texts) or "all empty"
