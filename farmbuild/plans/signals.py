"""What plans ask, and tell, rooms above them of the common stock of cooperatives, inside the transaction of a plan.

A receiver that raises ValidationError refuses.
"""

from django.dispatch import Signal

#: Asked with ``organisation``: the names of the cooperatives that it is a member of.
asking_cooperatives = Signal()
#: Asked with ``organisation``, ``materials`` (codes) and ``houses`` (keys): planning lots of what is open to it, and of
#: what is kept for these houses already.
asking_common_stock = Signal()
#: Sent with an accepted ``plan``, ``user``, ``lots`` (planning lots by ref), ``wanted`` (``WantedReservation``) and
#: ``houses`` (by slug): so many are asked for.
taking_common_stock = Signal()
#: Sent with ``plan``, ``user`` and ``houses`` (keys) that it builds no more.
houses_let_go = Signal()
#: Asked with ``organisation`` and ``houses`` (keys): pieces as ``InHouse`` that are kept for them and not fetched yet.
asking_what_is_kept = Signal()
#: Asked with ``plan``: references of its farm's lots that came of it from common stock.
asking_fetched_lots = Signal()
