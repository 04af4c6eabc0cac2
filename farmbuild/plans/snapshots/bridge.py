"""Plans as they are stored, read back as the planner's values. It knows no model, so that a plan can ask it."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Protocol

from farmbuild.planning.inputs import Season
from farmbuild.planning.results import SeasonPlan
from farmbuild.planning.season import snapshot

__all__ = ["Season", "SeasonPlan", "season_of", "season_plan_of"]


class Stored(Protocol):
    """A plan, in as much as its snapshots are found by it."""

    pk: int
    inputs_digest: str
    result_digest: str


def season_of(plan: Stored) -> Season:
    """What the plan was asked."""
    return _season(type(plan), plan.pk, plan.inputs_digest)


def season_plan_of(plan: Stored) -> SeasonPlan:
    """What came out. ``plan`` is ready."""
    return _season_plan(type(plan), plan.pk, plan.result_digest)


# A snapshot never changes, so the pages of one plan read it once. The digest guards against a restored copy.
@lru_cache(maxsize=4)
def _season(model: Any, pk: int, digest: str) -> Season:
    packed = model.objects.filter(inputs_digest=digest).values_list("inputs", flat=True).get(pk=pk)
    return snapshot.season_from_json(packed)


@lru_cache(maxsize=4)
def _season_plan(model: Any, pk: int, digest: str) -> SeasonPlan:
    packed = model.objects.filter(result_digest=digest).values_list("result", flat=True).get(pk=pk)
    return snapshot.plan_from_json(packed)
