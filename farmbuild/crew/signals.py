"""What others are told of hours, inside the transaction in which it happens. A receiver that raises undoes it."""

from django.dispatch import Signal

#: Sent by HourApproval with ``organisation``, ``user`` and ``approvals``, the rows just made.
hours_approved = Signal()
#: Sent by HourApproval with ``organisation``, ``user``, ``reason`` and ``which``, a dict of ``actual`` or ``other``:
#: what was approved of it counts no more.
approval_over = Signal()
