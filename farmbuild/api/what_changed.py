"""What the history keeps of these tables."""

from farmbuild.api.models import Token
from farmbuild.api.scopes import scope_words
from farmbuild.history.keeping import keep

keep(
    Token,
    "token",
    title="token of",
    deeds={"ended_at": ("ended", "brought back")},
    leave_out=["used_at", "minute", "uses", "made_at"],
    added="let in",
    said={"scopes": scope_words},
    leads_to=("api:token", "pk"),
)
