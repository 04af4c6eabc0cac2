"""The small season of the plan tests, worked out."""

from tests.plans.conftest import ready, season

__all__ = ["ready", "season"]
