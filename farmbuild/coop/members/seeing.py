"""For all pages of a member, of whichever room: who sees them, and who does what there."""

from farmbuild.crew.bookings.own.whose import as_member, check_acts_for, members_of

__all__ = ["as_member", "check_acts_for", "members_of"]
