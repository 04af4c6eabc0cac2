"""What springing a hoop in takes: force, moment, stress against the stated yield, each with its working."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import partial

from farmbuild.common.figures import Figure
from farmbuild.common.lengths import length_pair_text, length_text
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
_SOURCE = "Thin curved beam, ends free to turn (Castigliano; Roark, circular rings and arches)."


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
    way = f"in by {text(inward)}" if inward >= 0 else f"apart by {text(-inward)}"
    tube = section_of(recipe.tube)
    if tube is None:
        return SpringFigures(
            inward,
            f"Springing this hoop {way} takes a force that only the outside diameter and wall of {recipe.tube.name}"
            " can tell. Type both with the material.",
        )
    if bend.hoop.half_angle < NEARLY_STRAIGHT:
        return SpringFigures(inward, "This pipe is nearly straight, so it cannot be sprung in.")
    sprung = spring_in(bend.hoop, tube, float(inward))
    force, stress = _force(abs(sprung.force), imperial), _stress(abs(sprung.stress), imperial)
    answer = f"Springing it {way} takes {force} at each end and stresses the crown to {stress}" + (
        "." if sprung.yield_mpa is None else f", of the {_stress(sprung.yield_mpa, imperial)} stated as yield."
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
            "Bending stress in the sleeve",
            f"The sticks butt, so {sleeve.name} alone carries the moment there:"
            f" {format_decimal(found.moment, 0)} N mm at the highest joint, {format_mm(found.height, 1)} over the ends,"
            f" / section modulus {format_decimal(sleeve.section_modulus, 1)} mm³. That a sleeve stiffens the hoop is"
            " left out. Its length, screws and play are not checked; the maker's instructions and local codes come"
            " first.",
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
            "Ends moved together" if inward >= 0 else "Ends pulled apart",
            f"Free span {length_pair_text(hoop.span, units)} less the span between the posts.",
            length=abs(inward),
        ),
        Figure(
            "Give of the hoop",
            "The height above the line through the ends, squared, summed along every arc and straight of the hoop as"
            f" its pulls leave it. {_SOURCE}",
            text=f"{format_decimal(bending, 0)} mm³",
        ),
        Figure(
            "Force at each end",
            f"{ends} x E {format_decimal(tube.e_mpa, 0)} MPa (steel) x second moment"
            f" {format_decimal(tube.second_moment, 0)} mm⁴ /"
            f" {format_decimal(bending, 0)} mm³. {_SOURCE}",
            text=_force(sprung.force, imperial),
        ),
        Figure(
            "Moment at the crown",
            f"Force {format_decimal(sprung.force, 1)} N x rise {format_mm(hoop.rise, 1)}.",
            text=_moment(sprung.crown_moment, imperial),
        ),
        Figure(
            "Bending stress at the crown",
            f"Moment {format_decimal(sprung.crown_moment, 0)} N mm x half the outside diameter"
            f" {format_mm(float(tube.od) / 2, 2)} /"
            f" second moment {format_decimal(tube.second_moment, 0)} mm⁴.",
            text=_stress(sprung.stress, imperial),
        ),
        Figure(
            "Stated yield",
            tube.source or "No source is written down with the material.",
            text="not stated" if sprung.yield_mpa is None else _stress(sprung.yield_mpa, imperial),
        ),
    ]
    if sprung.elastic_limit is not None and sprung.yield_mpa is not None:
        rows.append(
            Figure(
                "Most that springs back",
                "The spring-in that stresses the crown to the stated yield:"
                f" {format_decimal(sprung.yield_mpa, 0)} MPa x section"
                f" modulus {format_decimal(tube.section_modulus, 1)} mm³ / rise"
                f" {format_mm(hoop.rise, 1)} x {format_decimal(bending, 0)} mm³ /"
                f" (E {format_decimal(tube.e_mpa, 0)} MPa x {format_decimal(tube.second_moment, 0)} mm⁴).",
                length=Decimal(repr(round(sprung.elastic_limit, 6))),
            )
        )
    return rows


def usual_inward(recipe: Recipe, post_spans: Mapping[Decimal, str], free_span: Decimal) -> tuple[Decimal, str]:
    """The spring-in to show before anybody asks, mm, and what it is for, in words."""
    units = recipe.organisation.unit_system
    if post_spans:
        span, whose = next(iter(post_spans.items()))
        return free_span - span, f"Worked for the posts of {whose}, {length_text(span, units)} apart."
    if recipe.bender is not None:
        span = recipe.bender.rated_span
        return (
            free_span - span,
            f"Worked for the {length_text(span, units)} house that {recipe.bender.name} is sold for.",
        )
    usual = wanted_spring_in(recipe)
    return usual, f"Worked for {length_text(usual, units)}. {spring_range(recipe, None, units)}"
