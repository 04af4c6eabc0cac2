"""The cautions of every page, sheet and task, in one wording and by kind of work (common practice, no source)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from farmbuild.planning.house.part import WorkKind

K = WorkKind

#: Said with those of every page, sheet and task.
ALWAYS = "Local codes and the maker's instructions come first."


class Caution(NamedTuple):
    """``short``: for a cell of a table, beside the work that it is about."""

    about: str
    words: str
    short: str


CAUTIONS = {
    "general": Caution(
        "This is a plan, not a structural design",
        "Ask a licensed engineer what wind and snow the house may stand in.",
        "local codes",
    ),
    "pipe": Caution(
        "Pipe under spring load",
        "A sprung hoop pushes outward. Two people hold its ends; keep others clear. Wear gloves and eye protection.",
        "spring load, eyes, gloves",
    ),
    "ladder": Caution(
        "Working high",
        "Set ladders on firm level ground, keep three points of contact, and have someone hold the foot."
        " Never climb on the hoops.",
        "ladder",
    ),
    "posts": Caution(
        "Digging and driving posts",
        "Before digging or driving, have buried lines marked by your line-marking service; look up for overhead lines."
        " Wear ear and eye protection when driving.",
        "buried and overhead lines",
    ),
    "cutting": Caution(
        "Cutting and drilling",
        "Clamp the stick and wear eye protection. Cut ends are sharp and may be hot.",
        "eyes, sharp edges",
    ),
    "wind": Caution(
        "Wind",
        "Put film on in calm air, never at or above your limit. Wind can lift a person.",
        "calm air only",
    ),
    "eyes": Caution(
        "Eyes and hands",
        "Wear eye protection and gloves, and keep others out of the swing of the pipe.",
        "eyes, gloves",
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
