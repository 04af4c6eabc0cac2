"""What pages ask the rooms above."""

from django.dispatch import Signal

#: Whether a number is far from what the material usually is: ``organisation``, ``material`` (a key as sent), ``kind``
#: ("money", "length") and ``value``. A receiver answers with a question, or "".
asking_if_usual = Signal()
