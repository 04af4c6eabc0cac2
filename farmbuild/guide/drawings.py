"""The drawings of the guide, of shipped starters and of invented figures, by the code that draws the site's own."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.remembered import drawn_once
from farmbuild.guide import sketches
from farmbuild.hoops.fits.drawings import RidgeDrawing
from farmbuild.hoops.fits.models import FitReading, HouseFit
from farmbuild.hoops.fits.sighted import sight_fit, sighted_rows
from farmbuild.hoops.recipes.bridge import bend_recipe_of
from farmbuild.hoops.recipes.drawings import HoopDrawing
from farmbuild.measure import UnitSystem
from farmbuild.measure.usual import KEEP_FROM, KERF, RIDGE_TOLERANCE, STICK
from farmbuild.orgs.models import Organisation
from farmbuild.sites.bridge import drawn_of
from farmbuild.sites.drawings import HouseDrawing
from farmbuild.sites.models import House
from farmbuild.sites.starters import starter_house, starter_named
from farmbuild.stock.cut_drawing import cut_drawing
from farmbuild.stock.cut_layout import lay_out

#: A shipped house of middle size in each unit system.
_STARTERS = {UnitSystem.IMPERIAL: "12-ft-house", UnitSystem.METRIC: "5-m-house"}
#: Ridge heights of hoops a bay apart, in steps over the first; mm, invented.
_RIDGE = (0, 7, -5, 2, 9, -3)
_BAY, _HIGH, _STEP, _ROOM = Decimal(1200), Decimal(2400), Decimal("6.35"), Decimal(100)


def _house(units: UnitSystem) -> House:
    starter = starter_named(_STARTERS[units])
    assert starter is not None
    return starter_house(starter)


def _of_house(units: UnitSystem) -> HouseDrawing:
    house = _house(units)
    return HouseDrawing(drawn_of(house, units), gettext("House"), units, paper=None)


def _of_hoop(units: UnitSystem) -> HoopDrawing:
    recipe = _house(units).recipe
    bend, name = bend_recipe_of(recipe), gettext("Recipe")
    return HoopDrawing(bend, name, units, recipe.lever_length, recipe.tube.swaged, paper=None)


def _cut(units: UnitSystem) -> SafeString:
    """Two long pieces and a short one out of a stick, and an end that is kept."""
    stick = STICK.of(units)
    layout = lay_out(
        stick=stick,
        pieces=[stick * part / 20 for part in (6, 6, 3)],
        kerf=KERF.of(units),
        keep_from=KEEP_FROM.of(units),
        keep=True,
    )
    return cut_drawing(layout, Organisation(unit_system=units))


def _ridge(units: UnitSystem) -> SafeString:
    """Six invented heights and what is done about them."""
    fit = HouseFit(tolerance=RIDGE_TOLERANCE.of(units), span_tolerance=RIDGE_TOLERANCE.of(units), slope=Decimal(0))
    readings = [
        FitReading(hoop=at + 1, place=_BAY * at, ridge_height=_HIGH + _STEP * off, down=_ROOM, up=_ROOM)
        for at, off in enumerate(_RIDGE)
    ]
    rows = sighted_rows(readings, fit, sight_fit(readings, fit, units))
    return RidgeDrawing(rows, fit.tolerance, gettext("a level line"), units).svg()


_DRAWN = {
    "plan": lambda units: _of_house(units).plan(),
    "section": lambda units: _of_house(units).section(),
    "hoop": lambda units: _of_hoop(units).hoop(),
    "stick": lambda units: _of_hoop(units).stick(),
    "cut": _cut,
    "ridge": _ridge,
    "radius": sketches.radius,
    "stop_gap": sketches.stop_gap,
    "joint": sketches.joint,
    "socket": sketches.socket,
    "order_by": sketches.order_by,
    "pile": sketches.pile,
    "day": sketches.day,
    "sharing": sketches.sharing,
    "options": sketches.options,
    "together": sketches.together,
}


@drawn_once
def _drawing(name: str, units: UnitSystem) -> SafeString:
    return _DRAWN[name](units)


@dataclass(frozen=True)
class Drawings:
    """By name, each drawn when it is asked for. Raises KeyError for no such drawing."""

    units: UnitSystem

    def __getitem__(self, name: str) -> SafeString:
        return _drawing(name, self.units)
