"""The door to the sums over days."""

from farmbuild.planning.season.availability import Cause, Change, Outlook, Step, Way, look_ahead

__all__ = ["Cause", "Change", "Outlook", "Step", "Way", "look_ahead"]
