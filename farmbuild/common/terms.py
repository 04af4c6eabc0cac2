"""The words of the trade and of these pages, a sentence or two each, and where the guide explains them.

Plain English words (order, task, house) are not here. One sentence is shown in one place: on the guide page of its
job; everywhere else the word is a link to it (``term_links``).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from django.urls import get_script_prefix, reverse


@dataclass(frozen=True)
class Term:
    """``job``: the guide page that explains it. ``forms``: how else it is written, each with its own ending.

    ``everyday``: the word is plain English too ("hold the ladder"), so that it is linked only where it stands alone, or
    by the tag ``term``.
    """

    name: str
    job: str
    meaning: str
    forms: tuple[str, ...] = ()
    everyday: bool = False

    @property
    def anchor(self) -> str:
        return self.name.replace(" ", "-")

    @property
    def href(self) -> str:
        return f"{_page_of(self.job, get_script_prefix())}#{self.anchor}"


@lru_cache(maxsize=1024)
def _page_of(job: str, _prefix: str) -> str:
    """Pages name a score of terms; ``_prefix`` is that in force, with which addresses begin."""
    return reverse("guide:job", args=[job])


HOUSE, BENDER, BEND, PLAN = "describe-a-house", "set-up-a-bender", "bend-the-first-hoop", "plan-and-order"
RECEIVE, CUT, PUT_UP = "receive-and-store", "cut-and-use-offcuts", "put-up-the-house"
SEASON, CREW, SHARE = "begin-your-first-season", "crew-days-and-hours", "share-a-bender"
QUOTE, TOGETHER = "quote-a-job", "order-together"

_ALL = (
    # Begin your first season
    Term(
        "starter", SEASON, "A shipped house with sizes and materials filled in. You change what differs.", ("starters",)
    ),
    Term("stick", SEASON, "One full length of pipe or board, as it is bought.", ("sticks",)),
    Term(
        "take-off",
        SEASON,
        "The list of every piece that a house needs, each with how it was worked out.",
        ("take-offs",),
    ),
    # Describe a house
    Term(
        "ground post", HOUSE, "A short pipe driven into the ground. One end of a hoop stands in it.", ("ground posts",)
    ),
    Term(
        "post span",
        HOUSE,
        "How far apart two facing ground posts stand, centre to centre.",
        ("span between the posts",),
    ),
    Term("socket depth", HOUSE, "How far a hoop stands in its ground post, or slides over it.", ("socket depths",)),
    Term("ridge", HOUSE, "The highest line of the house, along the tops of its hoops.", ("ridges",)),
    Term("bay", HOUSE, "The room between two neighbouring hoops.", ("bays",)),
    Term("purlin", HOUSE, "A pipe along the house that ties hoop to hoop, at the ridge or lower.", ("purlins",)),
    Term("hip board", HOUSE, "A board along each side at the height where roof and side meet.", ("hip boards",)),
    Term("base board", HOUSE, "A board along each side at the ground, to which the film is fixed.", ("base boards",)),
    Term(
        "fixing channel",
        HOUSE,
        "A metal track screwed to the frame. A wire pressed into it holds the film.",
        ("fixing channels",),
    ),
    # Set up a bender
    Term("bender", BENDER, "The tool that pipe is pulled round. It makes one radius only.", ("benders",)),
    Term(
        "radius", BENDER, "From the middle of the circle of a bend to the middle of the pipe.", ("radii", "bend radius")
    ),
    Term(
        "springback",
        BENDER,
        "What a pipe opens again after a pull. A trial hoop takes it into account.",
        ("spring-back", "springs back"),
    ),
    Term(
        "recipe",
        BENDER,
        "How one kind of hoop is bent: tube, sticks, marks, pulls and radius.",
        ("recipes", "hoop recipe"),
    ),
    Term("insertion", BENDER, "How far a swaged end slides into the next stick.", ("insertions",)),
    Term(
        "swage",
        BENDER,
        "The end of a stick that is made narrower, so that it slides into the next.",
        ("swaged", "swages", "swaged end"),
    ),
    Term("sleeve", BENDER, "A short tube in or over a joint of two plain ends.", ("sleeves",)),
    # Bend the first hoop
    Term("mark", BEND, "A stroke on the stick where the bender takes hold.", ("marks",), everyday=True),
    Term("pitch", BEND, "The distance from one mark to the next.", ("distance between marks",), everyday=True),
    Term("pull", BEND, "One bend at one mark.", ("pulls",), everyday=True),
    Term(
        "stop gap",
        BEND,
        "What is left between pipe and bender when a pull ends. It guards against over-bending.",
        ("stop gaps",),
    ),
    Term(
        "leave-off mark",
        BEND,
        "A mark that is not pulled, since it lies in a joint or too near an end.",
        ("left-off mark", "marks left off"),
    ),
    Term("lever bar", BEND, "A longer pipe slid over the free end to pull the last marks.", ("lever bars",)),
    Term("batch", BEND, "Hoops of one recipe that are bent together, after one trial hoop.", ("batches",)),
    Term(
        "trial hoop",
        BEND,
        "The first hoop of a batch. Nothing more is bent until it is measured and accepted.",
        ("trial hoops",),
    ),
    Term("free span", BEND, "How far apart the ends of a hoop are when it lies free.", ("free spans",)),
    Term("rise", BEND, "From the line through the ends of a hoop up to its crown.", ("rises",), everyday=True),
    Term(
        "spring-in", BEND, "Free span less post span: how far the hoop is pressed together to stand.", ("spring-ins",)
    ),
    # Plan and order
    Term(
        "plan",
        PLAN,
        "What to cut, buy and use for chosen houses. Accepting it writes the orders.",
        ("plans", "season plan"),
        everyday=True,
    ),
    Term("need date", PLAN, "The day by which a house must have its materials.", ("need dates", "materials needed by")),
    Term("offer", PLAN, "What a supplier sells: a material, its length and its price.", ("offers",), everyday=True),
    Term(
        "lead time",
        PLAN,
        "Days from sending an order until its goods come.",
        ("lead times", "lead days", "days from order to delivery"),
    ),
    Term("price break", PLAN, "A lower price from a certain number of pieces on.", ("price breaks",)),
    Term(
        "hold",
        PLAN,
        "Pieces kept for one house. No other house can take them until they are released.",
        ("holds", "held"),
        everyday=True,
    ),
    # Receive and store
    Term("receipt", RECEIVE, "The record of what came on one delivery, line by line.", ("receipts",)),
    Term("lot", RECEIVE, "Equal pieces in one place, with one number and one label.", ("lots",), everyday=True),
    Term("place", RECEIVE, "Where a lot lies: a rack, a shed, a corner of a field.", ("places",), everyday=True),
    Term("movement", RECEIVE, "One change to a lot: received, cut, moved, issued, lent or scrapped.", ("movements",)),
    Term("ledger", RECEIVE, "All movements, in order. What a lot has now is their sum.", ("ledgers",)),
    Term("stock count", RECEIVE, "Going from place to place and counting what is really there.", ("stock counts",)),
    # Cut and use offcuts
    Term(
        "kerf",
        CUT,
        "What one saw cut turns to dust. Pages call it the saw cut width.",
        ("saw cut width", "saw cut", "saw cuts"),
    ),
    Term("offcut", CUT, "The end left after a cut, when it is long enough to keep.", ("offcuts",)),
    Term("scrap", CUT, "What is too short to keep. It leaves the stock record.", (), everyday=True),
    # Put up the house
    Term(
        "sighting",
        PUT_UP,
        "Looking along the ridge and moving hoops until it is one line.",
        ("sight the ridge", "sighting the ridge"),
    ),
    Term("hoop stop", PUT_UP, "A pin or crimp in the ground post that the hoop comes down on.", ("hoop stops",)),
    Term("end wall", PUT_UP, "The framed wall at the front or the back, with its doors.", ("end walls",)),
    # Crew days and hours
    Term("steps", CREW, "The usual tasks of a house, in the order in which they are done.", (), everyday=True),
    Term(
        "schedule",
        CREW,
        "Which crew does which task on which days. Once published, it is on every day list.",
        ("schedules",),
    ),
    Term(
        "rate",
        CREW,
        "How many minutes one piece of work takes one person. Recorded hours correct it.",
        ("rates", "rates of work"),
        everyday=True,
    ),
    Term("day list", CREW, "What one person does on one day, for the phone.", ("day lists",)),
    # Share a bender
    Term("contingency", QUOTE, "A part added to the cost, for what nobody foresees.", ()),
    Term("margin", QUOTE, "The part of the price that is more than the cost.", ("margins",), everyday=True),
    Term(
        "joint order",
        TOGETHER,
        "What several members need, bought by one order and paid by each for its share.",
        ("joint orders",),
    ),
    Term("closing day", TOGETHER, "The last day on which members change what they need of a joint order.", ()),
    Term("member", SHARE, "A farm that borrows your benders.", ("members",), everyday=True),
    Term("booking", SHARE, "The days that a bender is promised to someone.", ("bookings",)),
    Term("leftovers", SHARE, "What remains in the yard when the houses of the season have what they need.", ()),
)

TERMS = {term.name: term for term in _ALL}


def term_named(words: str) -> Term:
    """By its name or one of its other forms. Raises KeyError for no term."""
    return _BY_FORM[words.casefold()]


def _spaced(words: str) -> str:
    """As a pattern: between words any space, and any hyphen for a hyphen."""
    return re.escape(words).replace(r"\ ", r"[\s ]+").replace(r"\-", "[-‑]")


_BY_FORM = {form.casefold(): term for term in _ALL for form in (term.name, *term.forms)}
_LONGEST_FIRST = sorted(_BY_FORM, key=lambda form: (-len(form), form))
#: The terms that mean the term wherever they stand.
IN_TEXT = re.compile(
    r"(?<![\w-])(?:"
    + "|".join(_spaced(form) for form in _LONGEST_FIRST if not _BY_FORM[form].everyday)
    + r")(?![\w-])",
    re.IGNORECASE,
)
#: A text that is a term and nothing else, everyday words included.
ALONE = re.compile(r"\s*(?:" + "|".join(map(_spaced, _LONGEST_FIRST)) + r")\s*", re.IGNORECASE)


def of_match(words: str) -> Term:
    """The term of what one of the patterns found."""
    return _BY_FORM[re.sub(r"\s+", " ", words).strip().replace("‑", "-").casefold()]
