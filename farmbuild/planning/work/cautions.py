"""The cautions of every page, sheet and task, in one wording and by kind of work (common practice, no source)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from farmbuild.measure.speech import gettext_noop as _
from farmbuild.planning.house.part import WorkKind

K = WorkKind

#: Said with those of every page, sheet and task.
ALWAYS = _("Local codes and the maker's instructions come first.")


class Caution(NamedTuple):
    """``short``: for a cell of a table, beside the work that it is about."""

    about: str
    words: str
    short: str


CAUTIONS = {
    "general": Caution(
        _("This is a plan, not a structural design"),
        _("Ask a licensed engineer what wind and snow the house may stand in."),
        _("local codes"),
    ),
    "pipe": Caution(
        _("Pipe under spring load"),
        _("A sprung hoop pushes outward. Two people hold its ends; keep others clear. Wear gloves and eye protection."),
        _("spring load, eyes, gloves"),
    ),
    "ladder": Caution(
        _("Working high"),
        _(
            "Set ladders on firm level ground, keep three points of contact, and have someone hold the foot."
            " Never climb on the hoops."
        ),
        _("ladder"),
    ),
    "posts": Caution(
        _("Digging and driving posts"),
        _(
            "Before digging or driving, have buried lines marked by your line-marking service; look up for overhead"
            " lines. Wear ear and eye protection when driving."
        ),
        _("buried and overhead lines"),
    ),
    "cutting": Caution(
        _("Cutting and drilling"),
        _("Clamp the stick and wear eye protection. Cut ends are sharp and may be hot."),
        _("eyes, sharp edges"),
    ),
    "wind": Caution(
        _("Wind"),
        _("Put film on in calm air, never at or above your limit. Wind can lift a person."),
        _("calm air only"),
    ),
    "eyes": Caution(
        _("Eyes and hands"),
        _("Wear eye protection and gloves, and keep others out of the swing of the pipe."),
        _("eyes, gloves"),
    ),
}

_OF_STEPS: Mapping[str, tuple[str, ...]] = {
    K.SURVEY: ("posts",),
    K.SAW: ("cutting",),
    K.POSTS: ("posts", "eyes"),
    K.MARK: ("eyes",),
    K.TRIAL: ("pipe", "eyes"),
    K.BEND: ("pipe", "eyes"),
    K.JOIN: ("cutting",),
    K.SET: ("pipe", "posts"),
    K.SIGHT: ("ladder", "pipe"),
    K.RIDGE: ("ladder", "cutting"),
    K.HIP: ("cutting",),
    K.BASE: ("cutting",),
    K.ENDS: ("ladder", "cutting"),
    K.FILM: ("wind", "ladder"),
    K.ANCHORS: ("posts",),
}

#: By kind of work. Whatever shows work of a kind shows these, all of them, and ``ALWAYS`` with them.
OF_WORK: Mapping[str, tuple[str, ...]] = {
    **_OF_STEPS,
    # What is no step of a house: carrying and stacking, a plan of many steps, and a whole house.
    "handling": ("eyes",),
    "design": ("general",),
    "house": ("general", *dict.fromkeys(name for names in _OF_STEPS.values() for name in names)),
}


def cautions_of(*kinds: str) -> list[Caution]:
    """Of all these kinds of work together, in the order of ``CAUTIONS``. Raises KeyError for no such kind."""
    wanted = {name for kind in kinds for name in OF_WORK[kind]}
    return [caution for name, caution in CAUTIONS.items() if name in wanted]
