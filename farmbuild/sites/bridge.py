"""Sites and houses as planning inputs."""

from decimal import Decimal

from farmbuild.catalogue.models import Material
from farmbuild.hoops.bridge import recipe_input
from farmbuild.planning import inputs
from farmbuild.sites.models import House, HouseSpec, Site

#: Material foreign keys of a house; planning names materials by their code.
MATERIAL_FIELDS = tuple(
    field.name
    for field in HouseSpec._meta.get_fields()
    if field.is_relation and field.related_model is Material
)
_PLAIN_FIELDS = tuple(
    field.name
    for field in HouseSpec._meta.get_fields()
    if not field.is_relation and "_door_" not in field.name and not field.name.endswith("_board_lengths")
)


def _doors(house: HouseSpec, end: str) -> inputs.Doors:
    return inputs.Doors(
        count=getattr(house, f"{end}_door_count"),
        width=getattr(house, f"{end}_door_width"),
        height=getattr(house, f"{end}_door_height"),
    )


def spec_input(house: HouseSpec) -> inputs.HouseSpec:
    """A spec, saved or not, with its recipe and materials at hand."""
    materials = {name: getattr(house, name) for name in MATERIAL_FIELDS}
    return inputs.HouseSpec(
        **{name: getattr(house, name) for name in _PLAIN_FIELDS},
        **{name: material.code if material else "" for name, material in materials.items()},
        recipe=recipe_input(house.recipe),
        hip_board_lengths=tuple(Decimal(length) for length in house.hip_board_lengths),
        base_board_lengths=tuple(Decimal(length) for length in house.base_board_lengths),
        front_doors=_doors(house, "front"),
        back_doors=_doors(house, "back"),
    )


def house_input(house: House) -> inputs.House:
    return inputs.House(
        ref=house.slug,
        name=house.name,
        site=house.site.slug,
        need_date=house.need_date,
        spec=spec_input(house),
    )


def site_input(site: Site) -> inputs.Site:
    return inputs.Site(code=site.slug, name=site.name, address=site.address)
