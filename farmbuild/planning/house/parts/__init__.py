"""The parts of a house, a module each, in the order of the take-off."""

from dataclasses import dataclass

from farmbuild.measure.speech import gettext_noop as _
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


@dataclass(frozen=True)
class Group:
    """Parts that are looked at together, on a page of pieces and in its drawings."""

    key: str
    name: str
    parts: tuple[Part, ...]

    def takes(self, purpose: str) -> bool:
        return any(purpose in part.purposes for part in self.parts)


GROUPS = (
    Group("hoops", _("Hoops"), (hoops.PART,)),
    Group("posts", _("Ground posts"), (posts.PART,)),
    Group("purlins", _("Purlins, boards and braces"), (purlins.PART, boards.PART, braces.PART)),
    Group("ends", _("End walls and doors"), (ends.PART, doors.PART)),
    Group("film", _("Film and channel"), (film.PART,)),
    Group("fixings", _("Screws, anchors and fittings"), (fixings.PART, fittings.PART)),
    Group("own", _("Rows of its own"), (own_rows.PART,)),
)
