"""Every field of a house decides something here too."""

from __future__ import annotations

from dataclasses import replace

from farmbuild.planning.house.fields import FIELDS, RECIPE_FIELDS
from tests.outside.houses import PROJECTS
from tests.outside.takeoff import rows

#: Fields that decide no row: whether the hoop goes over its post or into it, how much wider a curtain is than its
#: opening; where a hoop is pulled.
NO_ROWS = {"hoop_over_post", "curtain_spare"}
OF_PULLS = {"radius", "first_mark", "pitch", "stop_gap"}


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
    assert rows(replace(base, typed=typed, recipe=recipe))
    assert {field.name for field in FIELDS} - typed.asked - NO_ROWS == {"recipe"}
    sleeved = PROJECTS["feet"].house("tubes")
    of_sleeves = Watched(sleeved.recipe)
    assert rows(replace(sleeved, recipe=of_sleeves))
    assert {field.name for field in RECIPE_FIELDS} - recipe.asked - of_sleeves.asked == OF_PULLS
