"""Tables of all rooms of a cooperative."""

from farmbuild.coop.models.entries import MemberEntry

__all__ = ["MemberEntry"]
