"""What others are told of houses, inside the transaction in which it happens."""

from django.dispatch import Signal

#: Sent by House with ``house`` as it is stored now.
need_date_changed = Signal()

#: Sent by House with ``houses`` that are to go out of use. A receiver that raises ValidationError keeps them in use.
archiving = Signal()

#: Sent by House with ``house`` as it is stored now. Receivers give a list of ``outdated.Outdated``.
asking_what_is_outdated = Signal()

#: Sent by House with ``organisation`` and ``houses``, their keys. The receiver gives, by key, a ``phases.PlanPhase``.
asking_phases = Signal()

#: Sent by House with ``house``. The receiver gives a ``materials_balance.MaterialsBalance``, or None.
asking_materials_balance = Signal()

#: Sent by House with ``organisation`` and ``houses``. The receiver gives, by key, a ``yard.standing.Standing``.
asking_standings = Signal()

#: Sent by House with ``organisation``. The receiver gives a list of ``yard.standing.NextStep``.
asking_next_steps = Signal()
