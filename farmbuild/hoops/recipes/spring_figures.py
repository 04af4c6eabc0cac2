"""What springing a hoop in takes: force, moment, stress against the stated yield, each with its working."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import partial

from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.figures import Figure
from farmbuild.common.lengths import length_pair_text, length_text
from farmbuild.common.speaking import said
from farmbuild.hoops.recipes.bridge import (
    NEARLY_STRAIGHT,
    BendRecipe,
    TubeSection,
    section_of,
    set_warning,
    sleeve_stress_of,
    spring_in,
    spring_range,
    stress_text,
    wanted_spring_in,
)
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.measure import UnitSystem, format_decimal, format_mm

_LBF_FT_PER_N_MM = 1 / 4.4482216152605 / 304.8
_SOURCE = gettext_lazy("Thin curved beam, ends free to turn (Castigliano; Roark, circular rings and arches).")


@dataclass(frozen=True)
class SpringFigures:
    """``answer`` says it in a sentence; ``warning`` is empty while the pipe springs back. mm."""

    inward: Decimal
    answer: str
    warning: str = ""
    figures: list[Figure] = field(default_factory=list)


def _pair(own: str, other: str, imperial: bool) -> str:
    return f"{own} ({other})" if imperial else f"{other} ({own})"


def _force(newtons: float, imperial: bool) -> str:
    return _pair(f"{format_decimal(newtons / 4.4482216152605, 0)} lbf", f"{format_decimal(newtons, 0)} N", imperial)


def _moment(n_mm: float, imperial: bool) -> str:
    return _pair(
        f"{format_decimal(n_mm * _LBF_FT_PER_N_MM, 0)} lbf ft", f"{format_decimal(n_mm / 1000, 0)} N m", imperial
    )


def _stress(mpa: float, imperial: bool) -> str:
    return stress_text(mpa, UnitSystem.IMPERIAL if imperial else UnitSystem.METRIC)


def spring_figures(recipe: Recipe, bend: BendRecipe, inward: Decimal) -> SpringFigures:
    """Springing the free hoop of ``bend`` in by ``inward`` mm; below zero it is pulled apart."""
    units = recipe.organisation.unit_system
    imperial = units == "imperial"
    text = partial(length_text, units=units)
    way = (
        gettext("in by %(inward)s") % {"inward": text(inward)}
        if inward >= 0
        else gettext("apart by %(outward)s") % {"outward": text(-inward)}
    )
    tube = section_of(recipe.tube)
    if tube is None:
        return SpringFigures(
            inward,
            gettext(
                "Springing this hoop %(way)s takes a force that only the outside diameter and wall of "
                "%(tube)s can tell. Type both with the material."
            )
            % {"way": way, "tube": recipe.tube.name},
        )
    if bend.hoop.half_angle < NEARLY_STRAIGHT:
        return SpringFigures(inward, gettext("This pipe is nearly straight, so it cannot be sprung in."))
    sprung = spring_in(bend.hoop, tube, float(inward))
    force, stress = _force(abs(sprung.force), imperial), _stress(abs(sprung.stress), imperial)
    answer = (
        gettext("Springing it %(way)s takes %(force)s at each end and stresses the crown to %(stress)s")
        % {"way": way, "force": force, "stress": stress}
    ) + (
        "."
        if sprung.yield_mpa is None
        else gettext(", of the %(yield_mpa)s stated as yield.") % {"yield_mpa": _stress(sprung.yield_mpa, imperial)}
    )
    warning = set_warning(recipe, bend.hoop, inward)
    figures = [*_figures(bend, tube, inward, units), *_sleeve_figures(recipe, inward, imperial)]
    return SpringFigures(inward, answer, warning, figures)


def _sleeve_figures(recipe: Recipe, inward: Decimal, imperial: bool) -> list[Figure]:
    found, sleeve = sleeve_stress_of(recipe, inward), recipe.sleeve_material and section_of(recipe.sleeve_material)
    if found is None or sleeve is None:
        return []
    return [
        Figure(
            gettext("Bending stress in the sleeve"),
            gettext(
                "The sticks butt, so %(sleeve)s alone carries the moment there: %(moment)s N mm at the "
                "highest joint, %(height)s over the ends, / section modulus %(section_modulus)s mm³. That a "
                "sleeve stiffens the hoop is left out. Its length, screws and play are not checked; the "
                "maker's instructions and local codes come first."
            )
            % {
                "sleeve": sleeve.name,
                "moment": format_decimal(found.moment, 0),
                "height": format_mm(found.height, 1),
                "section_modulus": format_decimal(sleeve.section_modulus, 1),
            },
            text=_stress(found.stress, imperial),
        )
    ]


def _figures(bend: BendRecipe, tube: TubeSection, inward: Decimal, units: str) -> list[Figure]:
    imperial = units == "imperial"
    hoop, sprung = bend.hoop, spring_in(bend.hoop, tube, float(inward))
    bending = hoop.flexibility
    ends = format_mm(float(inward), 1)
    rows = [
        Figure(
            gettext("Ends moved together") if inward >= 0 else gettext("Ends pulled apart"),
            gettext("Free span %(span)s less the span between the posts.")
            % {"span": length_pair_text(hoop.span, units)},
            length=abs(inward),
        ),
        Figure(
            gettext("Give of the hoop"),
            gettext(
                "The height above the line through the ends, squared, summed along every arc and straight of "
                "the hoop as its pulls leave it. %(source)s"
            )
            % {"source": _SOURCE},
            text=f"{format_decimal(bending, 0)} mm³",
        ),
        Figure(
            gettext("Force at each end"),
            gettext(
                "%(ends)s x E %(e_mpa)s MPa (steel) x second moment %(second_moment)s mm⁴ / %(bending)s mm³. %(source)s"
            )
            % {
                "ends": ends,
                "e_mpa": format_decimal(tube.e_mpa, 0),
                "second_moment": format_decimal(tube.second_moment, 0),
                "bending": format_decimal(bending, 0),
                "source": _SOURCE,
            },
            text=_force(sprung.force, imperial),
        ),
        Figure(
            gettext("Moment at the crown"),
            gettext("Force %(force)s N x rise %(rise)s.")
            % {"force": format_decimal(sprung.force, 1), "rise": format_mm(hoop.rise, 1)},
            text=_moment(sprung.crown_moment, imperial),
        ),
        Figure(
            gettext("Bending stress at the crown"),
            gettext(
                "Moment %(crown_moment)s N mm x half the outside diameter %(od)s / second moment %(second_moment)s mm⁴."
            )
            % {
                "crown_moment": format_decimal(sprung.crown_moment, 0),
                "od": format_mm(float(tube.od) / 2, 2),
                "second_moment": format_decimal(tube.second_moment, 0),
            },
            text=_stress(sprung.stress, imperial),
        ),
        Figure(
            gettext("Stated yield"),
            tube.source or gettext("No source is written down with the material."),
            text=gettext("not stated") if sprung.yield_mpa is None else _stress(sprung.yield_mpa, imperial),
        ),
    ]
    if sprung.elastic_limit is not None and sprung.yield_mpa is not None:
        rows.append(
            Figure(
                gettext("Most that springs back"),
                gettext(
                    "The spring-in that stresses the crown to the stated yield: %(yield_mpa)s MPa x section "
                    "modulus %(section_modulus)s mm³ / rise %(rise)s x %(bending)s mm³ / (E %(e_mpa)s MPa x "
                    "%(second_moment)s mm⁴)."
                )
                % {
                    "yield_mpa": format_decimal(sprung.yield_mpa, 0),
                    "section_modulus": format_decimal(tube.section_modulus, 1),
                    "rise": format_mm(hoop.rise, 1),
                    "bending": format_decimal(bending, 0),
                    "e_mpa": format_decimal(tube.e_mpa, 0),
                    "second_moment": format_decimal(tube.second_moment, 0),
                },
                length=Decimal(repr(round(sprung.elastic_limit, 6))),
            )
        )
    return rows


def usual_inward(recipe: Recipe, post_spans: Mapping[Decimal, str], free_span: Decimal) -> tuple[Decimal, str]:
    """The spring-in to show before anybody asks, mm, and what it is for, in words."""
    units = recipe.organisation.unit_system
    if post_spans:
        span, whose = next(iter(post_spans.items()))
        return free_span - span, gettext("Worked for the posts of %(whose)s, %(span)s apart.") % {
            "whose": whose,
            "span": length_text(span, units),
        }
    if recipe.bender is not None:
        span = recipe.bender.rated_span
        return (
            free_span - span,
            gettext("Worked for the %(span)s house that %(bender)s is sold for.")
            % {"span": length_text(span, units), "bender": recipe.bender.name},
        )
    usual = wanted_spring_in(recipe)
    return usual, gettext("Worked for %(usual)s. %(spring_range)s") % {
        "usual": length_text(usual, units),
        "spring_range": said(spring_range(recipe, None, units)),
    }
