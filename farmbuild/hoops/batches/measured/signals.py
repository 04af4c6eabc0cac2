"""What is asked of rooms above of a bender."""

from django.dispatch import Signal

#: With ``benders``, keys: pulls that no batch records, as ``Made`` each.
asking_made_pulls = Signal()
