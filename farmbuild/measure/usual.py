"""What stands where nobody has typed a size, and the sentences with sizes in: in feet and inches, and in millimetres.

The sizes are common practice, no source; a metric one is the round size nearest to what is usual in inches.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from farmbuild.measure.lengths import INCH_MM, UnitSystem, too_long
from farmbuild.measure.speech import gettext_noop


class ByUnits(str):
    """A sentence as it is said in feet and inches, with the ``metric`` one beside it."""

    metric: str

    def __new__(cls, imperial: str, metric: str) -> ByUnits:
        said = super().__new__(cls, imperial)
        said.metric = metric
        return said

    def __reduce__(self) -> tuple[type[ByUnits], tuple[str, str]]:
        return ByUnits, (str(self), self.metric)

    def of(self, system: str) -> str:
        return self.metric if system == UnitSystem.METRIC else str(self)


def in_units(said: Any, system: str) -> Any:
    """The sentence for these units; whatever has but one wording stays as it is."""
    return said.of(system) if isinstance(said, ByUnits) else said


@dataclass(frozen=True)
class Usual:
    """One size in both unit systems, mm."""

    imperial: Decimal
    metric: Decimal

    def of(self, system: str) -> Decimal:
        return self.metric if system == UnitSystem.METRIC else self.imperial


def _inches(imperial: str, metric: int) -> Usual:
    return Usual(Decimal(imperial) * INCH_MM, Decimal(metric))


KERF = _inches("0.125", 3)
KEEP_FROM = _inches("24", 600)
FIRST_MARK = _inches("9", 225)
PITCH = _inches("18", 450)
STOP_GAP = _inches("1", 25)
LEVER = _inches("36", 900)
INSERTION = _inches("4", 100)
STICK = _inches("120", 3000)
SPRING_IN = _inches("18", 450)
#: Of a trial hoop: span, rise and twist.
TRIAL_TOLERANCE = _inches("2", 50)
#: By which the radius of a bender may change: a half circle is then off by the tolerance of a trial hoop.
DRIFT_LIMIT = _inches("1", 25)
RIDGE_TOLERANCE = _inches("0.5", 12)
DOOR_CLEARANCE = _inches("0.25", 6)
CHANNEL_SCREWS = _inches("24", 600)

#: No stick or board is longer, nor a roll or coil, mm (common practice, no source).
LONGEST_STICK, LONGEST_ROLL = Decimal(30_000), Decimal(300_000)
#: Why no length of a kind of material is longer, and the longest.
_PIECES = {
    "tube": (gettext_noop("%(length)s is longer than any stick, which is at most %(most)s."), LONGEST_STICK),
    "lumber": (gettext_noop("%(length)s is longer than any board, which is at most %(most)s."), LONGEST_STICK),
    "film": (gettext_noop("%(length)s is longer than any roll, which is at most %(most)s."), LONGEST_ROLL),
    "channel": (gettext_noop("%(length)s is longer than any coil, which is at most %(most)s."), LONGEST_ROLL),
}


def longer_than_any(kind: str, system: UnitSystem, length: Decimal) -> str:
    """Why no stick or roll is so long, "" where one may be or the kind has no length."""
    reason, longest = _PIECES.get(kind, ("", length))
    return too_long(length, longest, reason, system)
