"""What is asked of rooms above of a bender."""

from __future__ import annotations

from typing import Any

from django.dispatch import Signal

from farmbuild.hoops.benders.models import Bender

#: With ``bender``, its organisation loaded: what is wrong with it, each with ``title`` and ``words``.
asking_findings = Signal()


def findings_about(*, bender: Bender | None) -> list[Any]:
    """What the rooms above say is wrong with it; nothing of no bender."""
    if bender is None:
        return []
    return [finding for _, found in asking_findings.send(Bender, bender=bender) for finding in found]
