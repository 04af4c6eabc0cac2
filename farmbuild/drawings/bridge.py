"""What is drawn of a house, as planning works it out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from decimal import Decimal

from farmbuild.hoops.recipes.bridge import DRAWN_PIPE, BendRecipe, bend_recipe_of
from farmbuild.measure import UnitSystem
from farmbuild.planning.house.parts.boards import BoardPlace
from farmbuild.planning.house.parts.ends import EndWall
from farmbuild.planning.house.spec import HouseSpec, Joint
from farmbuild.planning.house.spec import Recipe as RecipeSpec
from farmbuild.planning.house.survey import survey
from farmbuild.planning.materials import Material
from farmbuild.planning.results import TakeoffRow
from farmbuild.planning.season.snapshot import digest
from farmbuild.planning.work.cautions import ALWAYS, CAUTIONS
from farmbuild.sites.bridge import (
    DrawnHouse,
    HouseShape,
    drawn_of,
    materials_in,
    section_words_of,
    spec_input,
    take_off_of,
)
from farmbuild.sites.models import House
from farmbuild.sites.yard.places import north_of

__all__ = [
    "ALWAYS",
    "DRAWN_PIPE",
    "BendRecipe",
    "BoardPlace",
    "DrawnHouse",
    "EndWall",
    "Facts",
    "HouseShape",
    "HouseSpec",
    "Joint",
    "Material",
    "RecipeSpec",
    "TakeoffRow",
    "cautions",
    "facts_of",
]


@dataclass(frozen=True)
class Facts:
    """All that the drawings of one house need. ``version``: the same while nothing that is drawn of has changed.

    ``north``: degrees clockwise from the top of its plan, front at the left; None where that is not known.
    """

    name: str
    units: UnitSystem
    spec: HouseSpec
    drawn: DrawnHouse
    bend: BendRecipe
    materials: Mapping[str, Material]
    diagonal: Decimal
    rows: tuple[TakeoffRow, ...]
    notes: Mapping[str, str]
    version: str
    north: int | None = None

    @property
    def shape(self) -> HouseShape:
        return self.drawn.shape

    @property
    def hoop_pipe(self) -> float:
        """Outside diameter of a hoop, mm."""
        return self.across(self.spec.recipe.tube)

    @property
    def post_pipe(self) -> float:
        return float(self.drawn.post_outside or 0)

    @property
    def purlin_pipe(self) -> float:
        return self.across(self.spec.purlin_material)

    def across(self, code: str) -> float:
        """Outside diameter of a tube, that of usual pipe where the catalogue has none."""
        return float(self.materials[code].width or DRAWN_PIPE) if code else 0.0

    def name_of(self, code: str) -> str:
        return self.materials[code].name if code else ""


def facts_of(house: House, units: UnitSystem | str) -> Facts:
    """Of a house without ``spec_problems``, with its materials at hand."""
    spec, materials, north = spec_input(house), materials_in(house), north_of(house)
    drawn = drawn_of(house, units)
    # What a page says of a house, by heading; what it does not have is left out.
    notes = {head: words for head, words in section_words_of(house, units).items() if words and words != "none"}
    return Facts(
        name=house.name,
        units=UnitSystem(units),
        spec=spec,
        drawn=drawn,
        bend=bend_recipe_of(house.recipe),
        materials=materials,
        diagonal=survey(drawn.shape).diagonal,
        rows=take_off_of(house, units),
        notes=notes,
        version=_version(spec, materials, north),
        north=north,
    )


def _version(spec: HouseSpec, materials: Mapping[str, Material], north: int | None) -> str:
    """Eight digits of the digest of all that the house is drawn from."""
    drawn_from: dict[str, object] = {
        "spec": _plain(spec),
        "materials": {code: _plain(row) for code, row in materials.items()},
    }
    return digest(drawn_from if north is None else drawn_from | {"north": north})[:8]


def _plain(row: HouseSpec | Material) -> dict[str, object]:
    return {name: repr(value) for name, value in asdict(row).items()}


def cautions() -> list[tuple[str, str]]:
    """Those of a drawing: (what about, words)."""
    found = CAUTIONS["general"]
    return [(found.about, found.words), ("", ALWAYS)]
