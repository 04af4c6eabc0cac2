"""What the history keeps of these tables."""

from farmbuild.costs.models import Equipment, EquipmentRate, PayRate, TripRate
from farmbuild.history.keeping import keep
from farmbuild.history.kept import ARCHIVES

keep(
    PayRate,
    "pay-rate",
    title="pay rate of",
    leave_out=["person", "crew"],
    money=["an_hour"],
    with_rows=["person", "crew"],
)
keep(Equipment, "equipment", title="equipment", deeds=ARCHIVES, with_rows=["bender"])
keep(EquipmentRate, of="equipment", title="price a day of", money=["a_day"])
keep(TripRate, "trip-rate", title="price of a trip to", leave_out=["site"], money=["each"], with_rows=["site"])
