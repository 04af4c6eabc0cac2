"""What the history keeps of these tables."""

from farmbuild.api.models import Token, Webhook
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
keep(
    Webhook,
    "webhook",
    title="webhook",
    deeds={"ended_at": ("ended", "brought back"), "stopped_at": ("stopped", "started again")},
    leave_out=[
        *("ref", "nonce", "nonce_before", "made_at", "mark", "trial_at", "tries", "next_try_at", "failing_since"),
        *("state", "steps_done", "steps", "step_note", "begun", "problem", "heard_from_at", "why_stopped"),
    ],
    labels={"before_until": "secret changed; the one before counts until"},
    added="added",
    leads_to=("api:webhook", "pk"),
)
