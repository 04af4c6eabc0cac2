"""For a timer: the week goes by e-mail to whoever wants it."""

from __future__ import annotations

from collections.abc import Iterator

from farmbuild.crew.management.sending import SendingCommand
from farmbuild.crew.weekly.sending import send_due


class Command(SendingCommand):
    help = "Sends the week by e-mail, once a week a person, from Friday on. Run it as often as you like."
    noun = "sheet"

    def send_due(self, *, site: str) -> Iterator[bool]:
        return send_due(site=site)
