"""What others are told of hours, inside the transaction in which it happens, and whom members are asked of.

A receiver that raises undoes it.
"""

from django.dispatch import Signal

#: Sent by HourApproval with ``organisation``, ``user`` and ``approvals``, the rows just made.
hours_approved = Signal()
#: Sent by HourApproval with ``organisation``, ``user``, ``reason`` and ``which``, a dict of ``actual`` or ``other``:
#: what was approved of it counts no more.
approval_over = Signal()
#: Asked with ``farm``, an organisation: the members, with their organisations, that it is now.
asking_members_of_farm = Signal()
#: Asked with ``member``: the organisations of its farm, none or one.
asking_farms_of_member = Signal()
#: Sent with ``member`` in the transaction that archives it. A receiver that raises ValidationError refuses.
archiving_member = Signal()
