"""What the command ``doctor`` asks the rooms above."""

from django.dispatch import Signal

#: Sent without arguments. The receiver gives what it looked at, as ``Found`` of ``examining.py``; it changes nothing.
examining = Signal()
