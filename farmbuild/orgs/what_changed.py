"""What the history keeps of these tables."""

from farmbuild.history.keeping import keep
from farmbuild.orgs.acts import act_words
from farmbuild.orgs.models import Membership, Organisation, User

keep(Organisation, "organisation", leave_out=["identity"], money=["two_people_above"])
keep(
    Membership,
    "role",
    title="person",
    leave_out=["user", "used_at"],
    money=["send_limit"],
    labels={"without": "may not", "also": "may as well", "send_limit": "may send orders up to"},
    deeds={"role": dict.fromkeys(Membership.Role.values, "gave a role to")},
    name=lambda row: row.user.display_name,
    with_rows=["user"],
    said={"without": act_words, "also": act_words},
)
keep(
    User,
    "sign-in",
    title="sign-in of",
    leave_out=["last_login", "date_joined", "groups", "user_permissions"],
    deeds={"is_active": ("opened", "closed")},
    name=lambda row: row.display_name,
)
