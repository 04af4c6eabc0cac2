"""What is told of people, inside the transaction in which it happens."""

from django.dispatch import Signal

#: With ``organisation``, ``user`` and ``invitation``: they belong to the organisation now.
joined = Signal()
#: With ``organisation`` and ``user``: they do not any more.
taken_out = Signal()
