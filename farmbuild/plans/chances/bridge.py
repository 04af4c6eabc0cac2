"""What planning says of chances."""

from farmbuild.planning.advice.chances import SEASONS, WANTED, Chance, Waits, chances

__all__ = ["SEASONS", "WANTED", "Chance", "Waits", "chances"]
