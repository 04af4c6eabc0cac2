"""What others are told of batches, inside the transaction in which it happens."""

from django.dispatch import Signal

#: Sent by HoopBatch with ``organisation``, ``user`` and ``batch``. A receiver that raises undoes the acceptance.
trial_accepted = Signal()
#: Sent by HoopBatch with ``organisation``, ``user`` and ``batch`` whenever a batch begins, its bent hoops change, or it
#: ends. A receiver that raises undoes it.
batch_changed = Signal()
