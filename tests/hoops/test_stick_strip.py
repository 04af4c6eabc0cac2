"""The marks on a drawn stick: numbered, to scale, and never one over another, however close they are."""

from __future__ import annotations

import re
from decimal import Decimal
from html import unescape

from hypothesis import given
from hypothesis import strategies as st

from farmbuild.common.strips import breadth
from farmbuild.hoops.recipes.stick_strip import PLACES, ROWS, labels_of, stick_strips
from tests.hoops.batches.measured.test_drawings import bent

MARKS = st.lists(st.floats(0.001, 0.999), min_size=1, max_size=40, unique=True).map(sorted)


def test_marks_are_numbered_to_scale_with_their_distances():
    bend = bent(1, 20)
    svg = stick_strips(bend, "Low", "imperial", "swaged end", swaged=True)
    for place, drawn in zip(PLACES, svg.split("<svg ")[1:], strict=True):
        lines = [
            Decimal(x) for x in re.findall(r'<line class="(?:mark|thin)" x1="([\d.]+)%"[^>]*y1="[\d.]+rem"', drawn)
        ]
        wanted = [mark / bend.stick_length * 100 for mark in bend.marks]
        assert all(min(abs(x - want) for x in lines) < Decimal("0.001") for want in wanted)
        texts = [unescape(text) for text in re.findall(r"<text [^>]*>([^<]*)</text>", drawn)]
        assert {str(number) for number in range(1, len(bend.marks) + 1)} <= set(texts), place
        assert any(text.endswith(('"', "'")) for text in texts)
    assert unescape(svg).count("Marks from the swaged end of a stick of") == len(PLACES)


@given(MARKS, st.sampled_from(PLACES), st.sampled_from(["7", "5'", "17' 10 15/16\"", "2\u202f819 mm"]))
def test_no_label_or_line_meets_another_at_this_width_or_a_wider_one(shares, place, words):
    labels = labels_of(shares, [words] * len(shares), place)
    assert labels and all(0 <= label.row < ROWS for label in labels)
    wide = breadth(words, place.letter)
    for width in (place.least, 2 * place.least):
        reach = {}
        for label in labels:
            at = label.share * width
            left = {"start": at, "middle": at - wide / 2, "end": at - wide}[label.anchor]
            assert left >= -0.01 and left + wide <= width + 0.01
            reach[label] = (left, left + wide)
        for label in labels:
            for other in labels:
                if other.row == label.row and other is not label:
                    assert reach[label][1] <= reach[other][0] + 1e-6 or reach[other][1] <= reach[label][0] + 1e-6
                elif other.row > label.row:
                    assert not reach[label][0] < other.share * width < reach[label][1]
