"""What organisations ask of the rooms above them, and tell them."""

from django.dispatch import Signal

#: With ``organisation``: what stands in its currency, each as words for a sentence: ["3 offers"]. ``lock``: what is
#: being stored is waited for.
asking_what_is_priced = Signal()
#: With the ``match`` of an address and the keys of ``organisations``: which of them have what it names. A room answers
#: for addresses of its own, and with nothing for others.
asking_who_has = Signal()
#: With ``organisation`` and the units ``before``, in the transaction that changes them.
units_changed = Signal()
#: With ``organisation``, in the transaction that changes it.
currency_changed = Signal()
#: With ``organisation``: keys of others whose rows it plans with.
asking_neighbours = Signal()
