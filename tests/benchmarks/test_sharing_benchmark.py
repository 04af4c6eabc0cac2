"""How long proposals take: a full week, and half a year of them, of twelve farms and three benders."""

from __future__ import annotations

from random import Random

import pytest

from tests.planning.sharing.season import farms, season


@pytest.mark.parametrize("weeks", [1, 26])
def test_benchmark_sharing(benchmark, weeks):
    asked, had = benchmark.pedantic(lambda: season(Random(20270104), farms(), weeks=weeks), rounds=1)
    assert sum(asked.values()) > sum((row.last - row.first).days + 1 for spans in had.values() for row in spans) > 0
