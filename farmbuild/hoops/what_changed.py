"""What the history keeps of these tables."""

from farmbuild.history.keeping import keep
from farmbuild.history.kept import ARCHIVES
from farmbuild.hoops.batches.models import BatchHouse, HoopBatch, SpoiltSticks, TrialHoop
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.recipes.models import Recipe

#: Sums of rows below, and what else follows by itself.
_FOLLOWS = ["attempts", "sticks_issued", "sticks_spoilt", "hoops_bent", "sticks_a_hoop", "by_pulls"]
_MEASURED = ["attempt", "verdict", "effective_radius", "target_span", "fresh_sticks", "accepted_by", "at", "by"]

keep(Recipe, "recipe", deeds=ARCHIVES, leads_to=("hoops:recipe", "slug"))
keep(Bender, "bender", deeds=ARCHIVES, leads_to=("hoops:bender", "slug"))
keep(
    HoopBatch,
    "batch",
    leave_out=[*_FOLLOWS, "number", "accepted_trial", "houses", "created_at", "created_by"],
    leads_to=("hoops:batch", "number"),
)
keep(BatchHouse, of="batch", title="hoops for a house", name=lambda row: str(row.house), with_rows=["house"])
keep(
    TrialHoop,
    of="batch",
    title="trial hoop",
    leave_out=_MEASURED,
    deeds={"accepted": ("accepted a trial hoop of", "took back a trial hoop of")},
    added="measured a trial hoop of",
    name=lambda row: f"trial hoop {row.attempt}",
)
keep(
    SpoiltSticks,
    of="batch",
    title="scrapped sticks",
    leave_out=["trial", "at", "by"],
    added="scrapped sticks of",
    labels={"reason": "why"},
)
