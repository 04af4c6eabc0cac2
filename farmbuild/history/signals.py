"""What the history tells the rooms above."""

from django.dispatch import Signal

#: Entries were written. ``organisations``: keys of those whose they are. Inside the transaction of what was changed.
written = Signal()
