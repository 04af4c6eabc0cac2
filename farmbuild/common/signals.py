"""What pages ask the rooms above."""

from django.dispatch import Signal

#: Whether a number is far from what the material usually is: ``organisation``, ``material`` (a key as sent), ``kind``
#: ("money", "length"), ``value`` and ``length`` of one piece where there is one. A receiver answers a question, or "".
asking_if_usual = Signal()
