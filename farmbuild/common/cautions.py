"""The cautions of every page, in one wording (common practice, no source)."""

from typing import NamedTuple

#: Said once with those of a page.
ALWAYS = "Local codes and the maker's instructions come first."


class Caution(NamedTuple):
    """``short``: for a cell of a table, beside the work that it is about."""

    about: str
    words: str
    short: str


CAUTIONS = {
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
    "sighting": Caution(
        "Sighting the ridge",
        "Three people: one sights along the ridge, two move the hoop, one at each post."
        " Do not drive hoops home before the ridge is sighted (common practice, no source).",
        "three people",
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
    "general": Caution(
        "This is a plan, not a structural design",
        "Ask a licensed engineer what wind and snow the house may stand in.",
        "local codes",
    ),
}
