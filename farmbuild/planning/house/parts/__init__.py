"""The parts of a house, a module each, in the order of the take-off."""

from farmbuild.planning.house.part import Part
from farmbuild.planning.house.parts import (
    boards,
    braces,
    doors,
    ends,
    film,
    fittings,
    fixings,
    hoops,
    own_rows,
    posts,
    purlins,
)

PARTS: tuple[Part, ...] = (
    hoops.PART,
    posts.PART,
    purlins.PART,
    boards.PART,
    ends.PART,
    doors.PART,
    braces.PART,
    film.PART,
    fixings.PART,
    fittings.PART,
    own_rows.PART,
)
