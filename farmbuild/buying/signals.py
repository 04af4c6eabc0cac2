"""What orders ask of the plans that they are made from."""

from django.dispatch import Signal

#: Sent by PurchaseOrder with ``organisation`` and ``plans``, their keys. The receiver gives, by the key of each plan
#: that is out of date, the names of its houses that have changed.
asking_changed_houses = Signal()

#: Sent by PurchaseOrder with ``organisation`` and ``plans``, their keys. The receiver gives, by key, the
#: word for how far the plan is.
asking_phases_of_plans = Signal()
