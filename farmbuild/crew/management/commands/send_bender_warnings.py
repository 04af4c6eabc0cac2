"""For a timer: whoever is booked on a bender that drifts or is overdue for service is told by e-mail."""

from __future__ import annotations

from collections.abc import Iterator

from farmbuild.crew.bookings.warning_mail import send_due
from farmbuild.crew.management.sending import SendingCommand


class Command(SendingCommand):
    help = "Sends warnings of benders to members who are booked, each once. Run it as often as you like."
    noun = "warning"

    def send_due(self, *, site: str) -> Iterator[bool]:
        return send_due(site=site)
