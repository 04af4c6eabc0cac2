"""Tube sections against published weights and a general section-analysis package."""

from decimal import Decimal

import pytest

from farmbuild.mechanics import TUBES, TubeSection

#: Pounds per 100 ft and outside diameter in inches, ANSI C80.3 / UL 797 table (figures from memory).
EMT = {
    "emt-1-2": (30, "0.706"),
    "emt-3-4": (46, "0.922"),
    "emt-1": (67, "1.163"),
    "emt-1-1-4": (101, "1.510"),
    "emt-1-1-2": (116, "1.740"),
    "emt-2": (148, "2.197"),
}
#: Pounds per foot, ASME B36.10M schedule 40 plain end (figures from memory).
PIPE = {"pipe-1": 1.68, "pipe-1-1-4": 2.27, "pipe-1-1-2": 2.72, "pipe-2": 3.66}


@pytest.mark.parametrize("code", EMT)
def test_emt_weight(code):
    pounds, od = EMT[code]
    assert TUBES[code].od == Decimal(od) * Decimal("25.4")
    assert TUBES[code].lb_per_ft * 100 == pytest.approx(pounds, rel=0.01)


@pytest.mark.parametrize("code", PIPE)
def test_pipe_weight(code):
    assert TUBES[code].lb_per_ft == pytest.approx(PIPE[code], rel=0.005)


@pytest.mark.parametrize("code", ["emt-3-4", "rail-1-3-8", "pipe-2"])
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
