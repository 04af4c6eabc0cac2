"""Usual sizes and sentences in feet and inches and in millimetres."""

from __future__ import annotations

import pickle
from copy import deepcopy

import pytest

from farmbuild.measure import ByUnits, Usual, in_units, usual

PAIRS = {name: found for name, found in vars(usual).items() if isinstance(found, Usual)}


@pytest.mark.parametrize("name", sorted(PAIRS))
def test_a_metric_size_is_round_and_near_the_imperial_one(name):
    pair = PAIRS[name]
    assert pair.metric == int(pair.metric)
    assert abs(pair.metric - pair.imperial) <= pair.imperial * 6 / 100
    assert (pair.of("imperial"), pair.of("metric")) == (pair.imperial, pair.metric)


def test_a_sentence_is_a_text_and_keeps_its_other_wording_when_it_is_copied():
    said = ByUnits("Type 2'.", "Type 600 mm.")
    assert said == "Type 2'."
    for one in (said, deepcopy(said), pickle.loads(pickle.dumps(said))):
        assert (in_units(one, "imperial"), in_units(one, "metric")) == ("Type 2'.", "Type 600 mm.")
    assert in_units("Type a name.", "metric") == "Type a name."
