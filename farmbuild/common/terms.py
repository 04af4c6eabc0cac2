"""The words of the trade and of these pages, a sentence or two each, and where the guide explains them.

Plain words (order, task, house) are not here. One sentence is shown in one place: on the guide page of its job;
everywhere else the word is a link to it (``term_links``).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, lru_cache

from django.urls import get_script_prefix, reverse
from django.utils.translation import get_language, gettext
from django.utils.translation import gettext_noop as _

_BETWEEN, _EVERYDAY = "|", "*"


@dataclass(frozen=True)
class Term:
    """``words``: the word, then how else it is written, each with its own ending. A language has its own, as many as it
    needs. A star at the end: the word is everyday language too ("hold the ladder"), so that it is linked only where it
    stands alone, or by the tags ``term`` and ``linked``. ``job``: the guide page that explains it.
    """

    words: str
    job: str
    meaning: str

    @property
    def key(self) -> str:
        """By which it is known, whatever the language."""
        return self.words.partition(_BETWEEN)[0]

    @property
    def anchor(self) -> str:
        return self.key.replace(" ", "-")

    @property
    def href(self) -> str:
        return f"{_page_of(self.job, get_script_prefix())}#{self.anchor}"

    # In the language of the page

    @property
    def forms(self) -> tuple[str, ...]:
        """Its name first."""
        return tuple(form for form in gettext(self.words).split(_BETWEEN) if form != _EVERYDAY)

    @property
    def name(self) -> str:
        return self.forms[0]

    @property
    def everyday(self) -> bool:
        return gettext(self.words).endswith(_BETWEEN + _EVERYDAY)


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
        _("starter|starters"), SEASON, _("A shipped house with sizes and materials filled in. You change what differs.")
    ),
    Term(_("stick|sticks"), SEASON, _("One full length of pipe or board, as it is bought.")),
    Term(
        _("take-off|take-offs"),
        SEASON,
        _("The list of every piece that a house needs, each with how it was worked out."),
    ),
    # Describe a house
    Term(
        _("ground post|ground posts"), HOUSE, _("A short pipe driven into the ground. One end of a hoop stands in it.")
    ),
    Term(
        _("post span|span between the posts"),
        HOUSE,
        _("How far apart two facing ground posts stand, centre to centre."),
    ),
    Term(_("socket depth|socket depths"), HOUSE, _("How far a hoop stands in its ground post, or slides over it.")),
    Term(_("ridge|ridges"), HOUSE, _("The highest line of the house, along the tops of its hoops.")),
    Term(_("bay|bays|bays between hoops"), HOUSE, _("The room between two neighbouring hoops.")),
    Term(_("purlin|purlins"), HOUSE, _("A pipe along the house that ties hoop to hoop, at the ridge or lower.")),
    Term(_("hip board|hip boards"), HOUSE, _("A board along each side at the height where roof and side meet.")),
    Term(_("base board|base boards"), HOUSE, _("A board along each side at the ground, to which the film is fixed.")),
    Term(
        _("fixing channel|fixing channels"),
        HOUSE,
        _("A metal track screwed to the frame. A wire pressed into it holds the film."),
    ),
    # Set up a bender
    Term(_("bender|benders"), BENDER, _("The tool that pipe is pulled round. It makes one radius only.")),
    Term(
        _("radius|radii|bend radius"), BENDER, _("From the middle of the circle of a bend to the middle of the pipe.")
    ),
    Term(
        _("springback|spring-back|springs back"),
        BENDER,
        _("What a pipe opens again after a pull. A trial hoop takes it into account."),
    ),
    Term(
        _("recipe|recipes|hoop recipe"),
        BENDER,
        _("How one kind of hoop is bent: tube, sticks, marks, pulls and radius."),
    ),
    Term(_("insertion|insertions"), BENDER, _("How far a swaged end slides into the next stick.")),
    Term(
        _("swage|swaged|swages|swaged end"),
        BENDER,
        _("The end of a stick that is made narrower, so that it slides into the next."),
    ),
    Term(_("sleeve|sleeves"), BENDER, _("A short tube in or over a joint of two plain ends.")),
    # Bend the first hoop
    Term(_("mark|marks|*"), BEND, _("A stroke on the stick where the bender takes hold.")),
    Term(_("pitch|distance between marks|*"), BEND, _("The distance from one mark to the next.")),
    Term(_("pull|pulls|*"), BEND, _("One bend at one mark.")),
    Term(
        _("stop gap|stop gaps"),
        BEND,
        _("What is left between pipe and bender when a pull ends. It guards against over-bending."),
    ),
    Term(
        _("leave-off mark|left-off mark|marks left off"),
        BEND,
        _("A mark that is not pulled, since it lies in a joint or too near an end."),
    ),
    Term(_("lever bar|lever bars"), BEND, _("A longer pipe slid over the free end to pull the last marks.")),
    Term(_("batch|batches"), BEND, _("Hoops of one recipe that are bent together, after one trial hoop.")),
    Term(
        _("trial hoop|trial hoops"),
        BEND,
        _("The first hoop of a batch. Nothing more is bent until it is measured and accepted."),
    ),
    Term(_("free span|free spans"), BEND, _("How far apart the ends of a hoop are when it lies free.")),
    Term(_("rise|rises|*"), BEND, _("From the line through the ends of a hoop up to its crown.")),
    Term(
        _("spring-in|spring-ins"), BEND, _("Free span less post span: how far the hoop is pressed together to stand.")
    ),
    # Plan and order
    Term(
        _("plan|plans|season plan|*"),
        PLAN,
        _("What to cut, buy and use for chosen houses. Accepting it writes the orders."),
    ),
    Term(_("need date|need dates|materials needed by"), PLAN, _("The day by which a house must have its materials.")),
    Term(_("offer|offers|*"), PLAN, _("What a supplier sells: a material, its length and its price.")),
    Term(
        _("lead time|lead times|lead days|days from order to delivery"),
        PLAN,
        _("Days from sending an order until its goods come."),
    ),
    Term(_("price break|price breaks"), PLAN, _("A lower price from a certain number of pieces on.")),
    Term(
        _("hold|holds|held|*"),
        PLAN,
        _("Pieces kept for one house. No other house can take them until they are released."),
    ),
    # Receive and store
    Term(_("receipt|receipts"), RECEIVE, _("The record of what came on one delivery, line by line.")),
    Term(_("lot|lots|*"), RECEIVE, _("Equal pieces in one place, with one number and one label.")),
    Term(_("place|places|*"), RECEIVE, _("Where a lot lies: a rack, a shed, a corner of a field.")),
    Term(_("movement|movements"), RECEIVE, _("One change to a lot: received, cut, moved, issued, lent or scrapped.")),
    Term(_("ledger|ledgers"), RECEIVE, _("All movements, in order. What a lot has now is their sum.")),
    Term(_("stock count|stock counts"), RECEIVE, _("Going from place to place and counting what is really there.")),
    # Cut and use offcuts
    Term(
        _("kerf|saw cut width|saw cut|saw cuts"),
        CUT,
        _("What one saw cut turns to dust. Pages call it the saw cut width."),
    ),
    Term(_("offcut|offcuts"), CUT, _("The end left after a cut, when it is long enough to keep.")),
    Term(_("scrap|*"), CUT, _("What is too short to keep. It leaves the stock record.")),
    # Put up the house
    Term(
        _("sighting|sight the ridge|sighting the ridge"),
        PUT_UP,
        _("Looking along the ridge and moving hoops until it is one line."),
    ),
    Term(_("hoop stop|hoop stops"), PUT_UP, _("A pin or crimp in the ground post that the hoop comes down on.")),
    Term(_("end wall|end walls"), PUT_UP, _("The framed wall at the front or the back, with its doors.")),
    # Crew days and hours
    Term(_("steps|*"), CREW, _("The usual tasks of a house, in the order in which they are done.")),
    Term(
        _("schedule|schedules"),
        CREW,
        _("Which crew does which task on which days. Once published, it is on every day list."),
    ),
    Term(
        _("rate|rates|rates of work|*"),
        CREW,
        _("How many minutes one piece of work takes one person. Recorded hours correct it."),
    ),
    Term(_("day list|day lists"), CREW, _("What one person does on one day, for the phone.")),
    # Quote a job
    Term(_("contingency|contingencies"), QUOTE, _("A part added to the cost, for what nobody foresees.")),
    Term(_("margin|margins|*"), QUOTE, _("The part of the price that is more than the cost.")),
    # Order together
    Term(
        _("joint order|joint orders"),
        TOGETHER,
        _("What several members need, bought by one order and paid by each for its share."),
    ),
    Term(
        _("closing day|closing days"),
        TOGETHER,
        _("The last day on which members change what they need of a joint order."),
    ),
    # Share a bender and end the season
    Term(_("member|members|*"), SHARE, _("A farm that borrows your benders.")),
    Term(_("booking|bookings"), SHARE, _("The days that a bender is promised to someone.")),
    Term(
        _("leftovers|leftovers of the season"),
        SHARE,
        _("What remains in the yard when the houses of the season have what they need."),
    ),
)

TERMS = {term.key: term for term in _ALL}
_BY_ENGLISH = {form: term for term in _ALL for form in term.words.split(_BETWEEN) if form != _EVERYDAY}


def term_named(words: str) -> Term:
    """By its name or one of its other forms, as templates have it: in English. Raises KeyError for no term."""
    return _BY_ENGLISH[words]


def _spaced(words: str) -> str:
    """As a pattern: between words any space, and any hyphen for a hyphen."""
    return re.escape(words).replace(r"\ ", r"[\s ]+").replace(r"\-", "[-‑]")


class Finder:
    """Finds terms in texts of the language in which it is made."""

    def __init__(self) -> None:
        self._by_form = {form.casefold(): term for term in _ALL for form in term.forms}
        longest_first = sorted(self._by_form, key=lambda form: (-len(form), form))
        plain = [form for form in longest_first if not self._by_form[form].everyday]
        #: The terms that mean the term wherever they stand.
        self.in_text = re.compile(rf"(?<![\w-])(?:{'|'.join(map(_spaced, plain))})(?![\w-])", re.IGNORECASE)
        #: A text that is a term and nothing else, everyday words included.
        self.alone = re.compile(rf"\s*(?:{'|'.join(map(_spaced, longest_first))})\s*", re.IGNORECASE)

    def term(self, words: str) -> Term:
        """That of one of its forms. Raises KeyError for no term."""
        return self._by_form[re.sub(r"\s+", " ", words).strip().replace("‑", "-").casefold()]


@cache
def _finder_of(_language: str | None) -> Finder:
    return Finder()


def finder() -> Finder:
    """That of the language in force."""
    return _finder_of(get_language())
