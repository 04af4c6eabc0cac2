"""What is drawn of a house, gathered from its parts; lengths in mm."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from farmbuild.planning.house.context import HouseContext
from farmbuild.planning.house.parts import boards, doors, ends, hoops, posts, purlins, sides
from farmbuild.planning.house.shape import HouseShape


@dataclass(frozen=True)
class DrawnHouse:
    """``post_outside`` is None for a house without posts; ``sides`` for one without film.

    ``doors`` are those of the front and of the back.
    """

    shape: HouseShape
    post_outside: Decimal | None
    over_post: bool
    sides: sides.Side | None
    purlins: tuple[purlins.PurlinPlace, ...]
    boards: tuple[boards.BoardPlace, ...]
    end_walls: tuple[ends.EndWall, ...]
    doors: tuple[doors.Doors, doors.Doors]
    sleeves: tuple[hoops.SleevePlace, ...] = ()


def drawn_house(house: HouseContext) -> DrawnHouse:
    return DrawnHouse(
        shape=house.shape,
        post_outside=posts.outside(house),
        over_post=house.spec.hoop_over_post,
        sides=sides.drawn(house),
        purlins=purlins.places(house),
        boards=boards.places(house),
        end_walls=tuple(ends.walls(house)),
        doors=doors.doors_of(house.spec),
        sleeves=hoops.sleeve_places(house),
    )
