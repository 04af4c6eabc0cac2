"""What others are told of stock, inside the transaction in which it happens."""

from django.dispatch import Signal

#: Sent by Lot with ``lot``, ``quantity`` pieces that are in it again, the ``used`` holds that they may have been taken
#: from, and ``user``.
pieces_back = Signal()

#: Asks what is on order of ``organisation``, to ``site`` alone where it is given; answers are lists of
#: ``piles.selectors.Coming``, one a material and length.
asking_what_comes = Signal()
