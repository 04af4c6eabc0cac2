"""Tube sections against published weights and a general section-analysis package."""

from decimal import Decimal

import pytest

from farmbuild.mechanics import TUBES, TubeSection

INCH = Decimal("25.4")
#: Nominal pounds per 100 ft and outside diameter in inches: ANSI C80.3 / UL 797, as in the Steel Tube Institute's
#: table of EMT weights and dimensions. The weights are nominal and whole pounds, so they bind to about 1 %.
EMT = {
    "emt-1-2": (30, "0.706"),
    "emt-3-4": (46, "0.922"),
    "emt-1": (67, "1.163"),
    "emt-1-1-4": (101, "1.510"),
    "emt-1-1-2": (116, "1.740"),
    "emt-2": (148, "2.197"),
}
#: Pounds per foot (from memory) and outside diameter and wall in inches, ASME B36.10M schedule 40 plain end.
PIPE = {
    "pipe-1": (1.68, "1.315", "0.133"),
    "pipe-1-1-4": (2.27, "1.660", "0.140"),
    "pipe-1-1-2": (2.72, "1.900", "0.145"),
    "pipe-2": (3.66, "2.375", "0.154"),
}


@pytest.mark.parametrize("code", EMT)
def test_emt_weight(code):
    pounds, od = EMT[code]
    assert TUBES[code].od == Decimal(od) * Decimal("25.4")
    assert TUBES[code].lb_per_ft == pytest.approx(pounds / 100, rel=0.01)


@pytest.mark.parametrize("code", PIPE)
def test_pipe_weight(code):
    pounds, od, wall = PIPE[code]
    assert (TUBES[code].od, TUBES[code].wall) == (Decimal(od) * INCH, Decimal(wall) * INCH)
    assert TUBES[code].lb_per_ft == pytest.approx(pounds, rel=0.005)


def test_steel_by_the_cubic_inch():
    """7850 kg/m3 is 0.2836 lb/in3."""
    tube = TubeSection("one square inch", Decimal("60"), Decimal("10"))
    assert tube.lb_per_ft / 12 / (tube.area / 25.4**2) == pytest.approx(0.2836, abs=5e-5)


@pytest.mark.parametrize("tube", TUBES.values(), ids=TUBES)
def test_every_figure_has_a_source(tube):
    assert tube.source
    assert tube.yield_mpa
    assert "yield:" in tube.source


@pytest.mark.parametrize("code", ["emt-1-2", "emt-3-4", "rail-1-3-8-light", "rail-1-3-8", "rail-1-7-8-083", "pipe-2"])
def test_section_against_a_section_package(code):
    from sectionproperties.analysis import Section
    from sectionproperties.pre.library import circular_hollow_section

    tube = TUBES[code]
    geometry = circular_hollow_section(d=float(tube.od), t=float(tube.wall), n=720)
    geometry.create_mesh(mesh_sizes=[2])
    section = Section(geometry)
    section.calculate_geometric_properties()
    assert tube.area == pytest.approx(section.get_area(), rel=1e-3)
    assert tube.second_moment == pytest.approx(section.get_ic()[0], rel=1e-3)
    assert tube.section_modulus == pytest.approx(section.get_z()[0], rel=1e-3)


def test_a_wall_that_fills_the_tube_is_refused():
    with pytest.raises(ValueError, match="does not fit"):
        TubeSection("solid", Decimal(20), Decimal(10))
    with pytest.raises(ValueError, match="does not fit"):
        TubeSection("no wall", Decimal(20), Decimal(0))
    assert TubeSection("nearly solid", Decimal(20), Decimal("9.999")).bore == Decimal("0.002")
