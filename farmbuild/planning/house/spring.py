"""Springing a hoop in: how far it may be, what is usual, and whether the pipe takes a set. Said the same everywhere."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import ByUnits, UnitSystem, format_decimal, format_length
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.measure.speech import joined, sentence
from farmbuild.measure.usual import SPRING_IN
from farmbuild.mechanics import BentHoop, SpringIn, Standing, TubeSection, spring_in, stress_in
from farmbuild.planning.materials import Kind, Material

_INCH, _FOOT = Decimal("25.4"), Decimal("304.8")
#: How much wider than its posts a free hoop may stand, both sides together: 24 in a side (common practice, no source).
MAX_SPRING_IN = 48 * _INCH
#: For 1-3/8 in rail over posts 12 to 20 ft apart alone (common practice, no source).
USUAL = ByUnits(
    _("1' to 2' is common practice for 1-3/8 in rail over posts 12' to 20' apart, no source."),
    _("300 to 600 mm is common practice for rail 33 to 35 mm across over posts 3600 to 6000 mm apart, no source."),
)
USUAL_SPANS = (12 * _FOOT, 20 * _FOOT)
#: Outside diameters that are sold as 1-3/8 in rail.
USUAL_TUBES = (Decimal("1.315") * _INCH, Decimal("1.375") * _INCH)
#: Wanted where nobody says otherwise; where the hoop springs back from less, this share of that.
_SHARE = Decimal("0.75")
_MPA_PER_KSI = 6.894757
#: Radians of half angle below which the sums lose their figures; such a hoop rises by less than 1/800 of its span.
NEARLY_STRAIGHT = 0.005
NO_YIELD = _(
    "has no stated yield, so we cannot say when a sprung-in hoop stays bent. Type the maker's yield with the tube."
)


def most_spring_in(post_span: Decimal) -> Decimal:
    """The most that a hoop over such posts may be sprung in, both sides together, mm."""
    return min(MAX_SPRING_IN, post_span / 2)


def section_of(material: Material | None) -> TubeSection | None:
    """The section of a tube whose sizes are known, with its stated yield if any; None for everything else."""
    if material is None or material.kind is not Kind.TUBE or material.width is None or material.thickness is None:
        return None
    if not 0 < material.thickness < material.width / 2:
        return None
    stated = float(material.yield_mpa) if material.yield_mpa else None
    return TubeSection(material.name, material.width, material.thickness, stated)


def sprung(hoop: Standing, tube: TubeSection | None, inward: Decimal) -> SpringIn | None:
    """Springing that hoop in; None where the section is unknown or the pipe nearly straight."""
    if tube is None or hoop.half_angle < NEARLY_STRAIGHT:
        return None
    return spring_in(hoop, tube, float(inward))


def springs_back(hoop: Standing, tube: TubeSection | None) -> Decimal | None:
    """The most that the hoop springs back from, mm; None where its tube's section or yield is not stated."""
    found = sprung(hoop, tube, Decimal(0))
    if found is None or found.elastic_limit is None:
        return None
    return Decimal(repr(round(found.elastic_limit, 6)))


def wanted_spring_in(limit: Decimal | None, units: UnitSystem) -> Decimal:
    """Where nobody says otherwise, mm: 18 in or 450 mm, or less where the hoop springs back from less than that."""
    wanted = SPRING_IN.of(units)
    if limit is None or limit >= wanted:
        return wanted
    step = _INCH / 2 if units is UnitSystem.IMPERIAL else Decimal(10)
    return max(step, (limit * _SHARE) // step * step)


def stress_text(mpa: float, units: UnitSystem) -> str:
    ksi, own = (
        sentence("%(mpa)s ksi", mpa=format_decimal(mpa / _MPA_PER_KSI, 1)),
        sentence("%(mpa)s MPa", mpa=format_decimal(mpa, 0)),
    )
    return (
        sentence("%(ksi)s (%(own)s)", ksi=ksi, own=own)
        if units is UnitSystem.IMPERIAL
        else sentence("%(own)s (%(ksi)s)", own=own, ksi=ksi)
    )


def usual_words(width: Decimal | None, post_span: Decimal | None, units: UnitSystem) -> str:
    """What is commonly sprung in, in a sentence; empty where there is no such practice."""
    if width is None or not USUAL_TUBES[0] <= width <= USUAL_TUBES[1]:
        return ""
    if post_span is not None and not USUAL_SPANS[0] <= post_span <= USUAL_SPANS[1]:
        return ""
    return sentence(USUAL.of(units))


def range_words(hoop: Standing, material: Material, post_span: Decimal | None, units: UnitSystem) -> str:
    """As ``range_sentences``, in one text."""
    return joined(" ", range_sentences(hoop, material, post_span, units))


def range_sentences(hoop: Standing, material: Material, post_span: Decimal | None, units: UnitSystem) -> list[str]:
    """How far that hoop may be sprung in, as its tube and radius allow."""
    tube = section_of(material)
    limit = springs_back(hoop, tube)
    if limit is not None:
        words: str = sentence(
            "This hoop of %(material)s springs back from at most %(length)s.",
            material=material.name,
            length=format_length(limit, units),
        )
    elif tube is None:
        words = sentence(
            "Type the outside diameter and wall of %(material)s: they tell how far it springs back.",
            material=material.name,
        )
    else:
        words = sentence("%(material)s %(no_yield)s", material=material.name, no_yield=sentence(NO_YIELD))
    usual = usual_words(material.width, post_span, units)
    return [words, usual] if usual else [words]


def set_words(hoop: Standing, material: Material, inward: Decimal, units: UnitSystem) -> str:
    """That the pipe stays bent when sprung in so far, with the numbers; empty while it springs back or none can say."""
    found = sprung(hoop, section_of(material), inward)
    if found is None or not found.takes_set or found.yield_mpa is None or found.elastic_limit is None:
        return ""
    way = (
        sentence("in by %(inward)s", inward=format_length(inward, units))
        if inward >= 0
        else sentence("apart by %(inward)s", inward=format_length(-inward, units))
    )
    most = Decimal(repr(round(found.elastic_limit, 6)))
    return sentence(
        "Springing the hoop %(way)s stresses the crown of %(material)s to %(stress)s. It is "
        "stated to yield at %(yield_mpa)s, so the hoop would stay bent and push less. Spring it "
        "%(way_2)s at most %(most)s.",
        way=way,
        material=material.name,
        stress=stress_text(abs(found.stress), units),
        yield_mpa=stress_text(found.yield_mpa, units),
        way_2=sentence("in") if inward >= 0 else sentence("apart"),
        most=format_length(most, units),
    )


@dataclass(frozen=True)
class SleeveStress:
    """At the highest joint of a sprung hoop, ``height`` mm over its ends: N mm, MPa."""

    height: float
    moment: float
    stress: float
    yield_mpa: float | None


def sleeve_stress(
    hoop: BentHoop, joints: Sequence[Decimal], tube: Material, sleeve: Material, inward: Decimal
) -> SleeveStress | None:
    """What the sleeve bears where the sticks butt and it alone carries the bending; None where a section is unknown.

    That a sleeve stiffens the hoop on either side of the joint is left out of all sums.
    """
    found, section = sprung(hoop, section_of(tube), inward), section_of(sleeve)
    if found is None or section is None or not joints:
        return None
    height = max(hoop.point_at(float(joint))[1] for joint in joints)
    return SleeveStress(height, found.force * height, stress_in(found, height, section), section.yield_mpa)


def sleeve_springs_back(hoop: BentHoop, joints: Sequence[Decimal], tube: Material, sleeve: Material) -> Decimal | None:
    """The most that the sleeve springs back from, mm; None where nobody can say."""
    found = sleeve_stress(hoop, joints, tube, sleeve, Decimal(1))
    if found is None or found.yield_mpa is None or found.stress <= 0:
        return None
    return Decimal(repr(round(found.yield_mpa / found.stress, 6)))


def sleeve_words(
    hoop: BentHoop, joints: Sequence[Decimal], tube: Material, sleeve: Material, inward: Decimal, units: UnitSystem
) -> str:
    """That the sleeve takes a set when the hoop is sprung in so far; empty while it does not or none can say."""
    found = sleeve_stress(hoop, joints, tube, sleeve, inward)
    most = sleeve_springs_back(hoop, joints, tube, sleeve)
    if found is None or found.yield_mpa is None or most is None or abs(inward) <= most:
        return ""
    way = (
        sentence("in by %(inward)s", inward=format_length(inward, units))
        if inward >= 0
        else sentence("apart by %(inward)s", inward=format_length(-inward, units))
    )
    return sentence(
        "Springing the hoop %(way)s stresses the sleeve of %(sleeve)s to %(stress)s, where it "
        "alone carries the bending. It is stated to yield at %(yield_mpa)s. Choose a sleeve with "
        "a thicker wall, or spring the hoop %(way_2)s at most %(most)s.",
        way=way,
        sleeve=sleeve.name,
        stress=stress_text(abs(found.stress), units),
        yield_mpa=stress_text(found.yield_mpa, units),
        way_2=sentence("in") if inward >= 0 else sentence("apart"),
        most=format_length(most, units),
    )


def spring_remarks(hoop: Standing, material: Material, inward: Decimal, units: UnitSystem) -> list[str]:
    """What must be known of springing that hoop in so far. An older stored plan does not know any yield."""
    if found := set_words(hoop, material, inward, units):
        return [found]
    if material.yield_mpa is not None and not material.yield_mpa and section_of(material):
        return [sentence("%(material)s %(no_yield)s", material=material.name, no_yield=sentence(NO_YIELD))]
    return []
