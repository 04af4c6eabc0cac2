"""Every field of a house decides something here too."""

from __future__ import annotations

from dataclasses import replace

from farmbuild.planning.house.fields import FIELDS, RECIPE_FIELDS
from tests.outside.houses import PROJECTS
from tests.outside.takeoff import rows

#: Fields that decide no row: whether the hoop goes over its post or into it; where a hoop is pulled.
NO_ROWS = {"hoop_over_post", "curtain_spare"}
OF_PULLS = {"radius", "first_mark", "pitch", "stop_gap"}
#: What the house with everything, which closes its sides in another way, does not have.
CURTAIN = {
    "side_closing": "curtain",
    "curtain_film_material": "narrow",
    "curtain_pipe_material": "rail",
    "curtain_pipe_stick_length": "10'",
}


class Watched(dict):
    """What was typed, and which of it was asked for."""

    def __init__(self, *args: object) -> None:
        super().__init__(*args)
        self.asked: set[str] = set()

    def get(self, name, default=None):
        self.asked.add(name)
        return super().get(name, default)

    def __getitem__(self, name):
        self.asked.add(name)
        return super().__getitem__(name)


def test_every_field_is_asked_for() -> None:
    """One that is not is missing in what is worked out here, or decides no row."""
    base = PROJECTS["feet"].house("all")
    typed, recipe = Watched(base.typed), Watched(base.recipe)
    for more in ({}, CURTAIN):
        typed.update(more)
        assert rows(replace(base, typed=typed, recipe=recipe))
    assert {field.name for field in FIELDS} - typed.asked - NO_ROWS == {"recipe"}
    assert {field.name for field in RECIPE_FIELDS} - recipe.asked == OF_PULLS
