"""The cautions of every page, in one wording (common practice, no source)."""

from typing import NamedTuple


class Caution(NamedTuple):
    """``short``: for a cell of a table, beside the work that it is about."""

    about: str
    words: str
    short: str


CAUTIONS = {
    "pipe": Caution(
        "Pipe under spring load",
        "A bent hoop held to its span pushes outwards. Stand clear of its ends, hold both before letting go of one,"
        " and wear eye protection and gloves.",
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
        "Have buried pipes and cables marked before the first post, look for overhead lines before lifting pipe,"
        " and wear ear and eye protection when driving.",
        "buried and overhead lines",
    ),
    "cutting": Caution(
        "Cutting and drilling",
        "Wear eye and ear protection, clamp the stick, and take the burr off: cut pipe is sharp and hot.",
        "eyes, ears, sharp edges",
    ),
    "sighting": Caution(
        "Sighting the ridge",
        "It takes three people: one to sight along the ridge, two to move the hoop, one at each post."
        " Do not drive hoops home until the ridge has been sighted (common practice, no source).",
        "three people",
    ),
    "wind": Caution(
        "Wind",
        "Put film on in still air only. A sheet that catches wind lifts a person. Local codes, the maker's"
        " instructions and a licensed engineer decide what wind and snow a house may stand in.",
        "still air only",
    ),
    "eyes": Caution(
        "Eyes and hands",
        "Wear eye protection and gloves, and keep others out of the swing of the pipe.",
        "eyes, gloves",
    ),
    "general": Caution(
        "This is a plan, not a structural design",
        "Follow local codes and the maker's instructions, and ask a licensed engineer what wind and snow"
        " the house may stand in.",
        "local codes",
    ),
}
