"""What plans ask, and tell, rooms above them: of the common stock of cooperatives, inside the transaction of a plan,
and who could build its houses.

A receiver that raises ValidationError refuses.
"""

from dataclasses import dataclass
from decimal import Decimal

from django.dispatch import Signal


@dataclass(frozen=True)
class AskedFor:
    """So many pieces that a plan asked for, ``what`` with its length, where they lie, and what became of it in words;
    ``answer``: why not. ``url``: where the cooperative's common stock stands for the farm, "" where it is no member any
    more. ``lost``: a sentence where the plan gets none of it."""

    cooperative: str
    what: str
    place: str
    quantity: int
    state: str
    answer: str
    url: str
    lost: str


@dataclass(frozen=True)
class Waiting:
    """Pieces of a material (its code) and length in mm that wait for an answer, and what they come to untaxed."""

    cooperative: str
    material: str
    length: Decimal | None
    quantity: int
    amount: Decimal


#: Asked with ``organisation`` and ``houses`` (keys): what waits for them, as ``Waiting``.
asking_what_waits = Signal()
#: Asked with ``organisation``: the names of the cooperatives that it is a member of.
asking_cooperatives = Signal()
#: Asked with ``organisation``, ``materials`` (codes) and ``houses`` (keys): planning lots of what is open to it, and of
#: what is kept for these houses already.
asking_common_stock = Signal()
#: Sent with ``organisation``, ``refs`` that a plan would take and ``houses`` (keys), before anything is locked.
locking_common_stock = Signal()
#: Sent with an accepted ``plan``, ``user``, ``lots`` (planning lots by ref), ``wanted`` (``WantedReservation``),
#: ``houses`` (by slug) and ``let_go``, what the answers to ``houses_let_go`` come to: so many are asked for.
taking_common_stock = Signal()
#: Sent with ``plan``, ``user`` and ``houses`` (keys) that it builds no more. Answers: pieces kept for them so far, by
#: key of what they are of.
houses_let_go = Signal()
#: Asked with ``plan``: what became of what it asked for, as ``AskedFor``.
asking_what_became = Signal()
#: Asked with ``organisation`` and ``houses`` (keys): pieces as ``InHouse`` that are kept for them and not fetched yet.
asking_what_is_kept = Signal()
#: Asked with ``plan``: references of its farm's lots that came of it from common stock.
asking_fetched_lots = Signal()
#: Asked with ``organisation``, ``houses`` (rows) and ``start`` (a moment): who could build them, as planning's
#: ``Builders``.
asking_builders = Signal()
