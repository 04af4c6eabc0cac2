"""What the history keeps of these tables."""

from farmbuild.coop.models import ChargeRate, FreeDays
from farmbuild.history.keeping import keep

keep(ChargeRate, "charge-rate", title="price for members of", money=["each"], with_rows=["bender"])
keep(FreeDays, "free-days", title="free days")
