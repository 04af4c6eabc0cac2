"""What the page of a bender shows: rated beside measured, drift, and the line of its trial hoops."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import partial
from typing import Any

from django.db.models import QuerySet
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.lengths import length_text
from farmbuild.common.templatetags.farm import day
from farmbuild.hoops.batches.measured.drawings import radius_line
from farmbuild.hoops.batches.measured.selectors import with_a_radius
from farmbuild.hoops.batches.models import TrialHoop
from farmbuild.hoops.benders.bridge import kink_warning
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.benders.worked_out import working
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.measure import format_signed
from farmbuild.measure.usual import INSERTION, STICK

#: Trial hoops drawn at most, the latest ones.
MAX_DRAWN = 24


@dataclass(frozen=True)
class BenderPage:
    """``working``: how the rated radius came about. ``against_rated`` is measured less rated.

    ``drift`` sentences are empty before the first accepted trial hoop.
    """

    answer: str
    drift: list[str]
    warnings: list[str]
    against_rated: Decimal | None
    line: SafeString | None
    working: list[str]


def makes_initial(bender: Bender, recipe: Recipe | None) -> dict[str, Any]:
    """The sticks of a recipe bent on it, or else two usual sticks; for the span that the bender is sold for."""
    units = bender.organisation.unit_system
    sticks = {"sticks": 2, "stick_length": STICK.of(units), "insertion": INSERTION.of(units)}
    if recipe is not None:
        sticks = {name: getattr(recipe, name) for name in (*sticks, "tube")}
    return sticks | {"post_span": bender.rated_span}


def _off(length: Decimal, units: str) -> str:
    """How far from rated, in words."""
    shown = length_text(abs(length), units)
    if shown == length_text(Decimal(0), units):
        return gettext("as rated")
    if length > 0:
        return gettext("%(shown)s wider than rated") % {"shown": shown}
    return gettext("%(shown)s tighter than rated") % {"shown": shown}


def _drift(bender: Bender, trials: Sequence[TrialHoop], units: str) -> list[str]:
    """``trials``: the latest first."""
    text = partial(length_text, units=units)
    newest, oldest = trials[0], trials[-1]
    off = newest.effective_radius - bender.rated_radius
    words = [
        gettext("The latest accepted trial hoop, of %(day)s, has a radius of %(radius)s: %(off)s (%(percent)s%%).")
        % {
            "day": day(newest.at),
            "radius": text(newest.effective_radius),
            "off": _off(off, units),
            "percent": format_signed(off / bender.rated_radius * 100, 1),
        }
    ]
    if len(trials) > 1:
        moved = newest.effective_radius - oldest.effective_radius
        low = min(row.effective_radius for row in trials)
        high = max(row.effective_radius for row in trials)
        if text(abs(moved)) == text(Decimal(0)):
            turned = gettext("alike")
        else:
            turned = gettext("%(moved)s wider") if moved > 0 else gettext("%(moved)s tighter")
            turned = (
                f"{turned % {'moved': text(abs(moved))}} ({format_signed(moved / oldest.effective_radius * 100, 1)}%)"
            )
        words.append(
            gettext(
                "Since %(day)s, over %(trials)s accepted trial hoops, hoops came out %(turned)s, between %(low)s and"
                " %(high)s."
            )
            % {"day": day(oldest.at), "trials": len(trials), "turned": turned, "low": text(low), "high": text(high)}
        )
        if len({row.batch.recipe.tube_id for row in trials}) > 1:
            words.append(gettext("Tubes of another wall or steel spring back by more or less; compare like with like."))
    return words


def bender_page(bender: Bender, trials: QuerySet[TrialHoop]) -> BenderPage:
    """``bender`` comes with organisation, tubes and measured radius; ``trials`` the latest first."""
    units = bender.organisation.unit_system
    text = partial(length_text, units=units)
    drawn = list(with_a_radius(trials)[:MAX_DRAWN])
    rated = gettext("Rated for a radius of %(radius)s and a %(span)s house") % {
        "radius": text(bender.rated_radius),
        "span": text(bender.rated_span),
    }
    if drawn:
        off = drawn[0].effective_radius - bender.rated_radius
        answer = gettext("Makes a radius of %(effective_radius)s, measured %(at)s. %(rated)s.") % {
            "effective_radius": text(drawn[0].effective_radius),
            "at": day(drawn[0].at),
            "rated": rated,
        }
    else:
        off = None
        none = gettext("No trial hoop has been accepted on it yet")
        if trials.exists():
            none = gettext("No accepted trial hoop was a true arc")
        answer = f"{rated}. {none}."
    return BenderPage(
        answer=answer,
        drift=_drift(bender, drawn, units) if drawn else [],
        warnings=[
            warning
            for tube in bender.tubes.all()
            if (warning := kink_warning(bender.rated_radius if off is None else drawn[0].effective_radius, tube, units))
        ],
        against_rated=off,
        line=radius_line(bender, drawn[::-1], units) if drawn else None,
        working=working(bender),
    )
