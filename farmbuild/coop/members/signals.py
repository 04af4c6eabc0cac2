"""What rooms above are told and asked when a farm is a member no more."""

from django.dispatch import Signal

#: Asked with ``member`` and ``farm``: sentences of what ends with it.
asking_what_ends = Signal()
#: Sent with ``member``, ``farm`` and ``user`` in the transaction that has ended it.
farm_ended = Signal()
