"""How much the tests try: enough for every change, or with ``FARMBUILD_LONG=1`` all that the long run tries."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

LONG = os.environ.get("FARMBUILD_LONG") == "1"
_LONGER = 10

# No deadlines: how long one case takes says more about what else the machine does.
_shared = {"deadline": None, "print_blob": True, "suppress_health_check": [HealthCheck.too_slow]}
settings.register_profile("ci", max_examples=100, **_shared)
settings.register_profile("long", max_examples=100 * _LONGER, **_shared)

#: All cases are tried with SQLite; what another database makes different shows in a quarter of them.
on_another_database = False


def sized(usual: int, long: int) -> int:
    return long if LONG else usual


def examples(usual: int, long: int | None = None) -> settings:
    """So many cases of Hypothesis where its hundred are too few or too dear; in the long run ten times as many, or
    ``long``."""
    return settings(max_examples=sized(usual // 4 if on_another_database else usual, long or usual * _LONGER))
