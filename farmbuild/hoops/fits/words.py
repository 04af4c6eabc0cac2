"""The answer of a fit in sentences."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.common.lengths import length_pair_text, length_text
from farmbuild.hoops.fits.bridge import step_of
from farmbuild.hoops.fits.models import HouseFit
from farmbuild.hoops.fits.sighted import HoopRow
from farmbuild.measure import count_noun

Say = Callable[[Decimal], str]

#: Moves and hoops named in the answer; the list below it has all.
_NAMED = 4
#: The run over which a slope is said: 10 ft, 1 m.
_RUN = {"imperial": Decimal(3048), "metric": Decimal(1000)}


def _whole(length: str) -> str:
    """Never broken over two lines: 1 and 1/4 in on the next line would be read as 1."""
    return length.replace(" ", "\u00a0")


@dataclass(frozen=True)
class Words:
    """``reachable``: exact moves would bring every hoop within the tolerance."""

    fit: HouseFit
    rows: Sequence[HoopRow]
    reachable: bool
    units: str

    @property
    def line(self) -> str:
        slope = self.fit.slope
        if slope is None:
            return "one straight line"
        if slope == 0:
            return "a level line"
        run = _RUN[self.units]
        way = "rising" if slope > 0 else "falling"
        return f"a line {way} {self._small(abs(slope) * run)} in {self._say(run)} towards the back"

    def answer(self) -> str:
        within = self._say(self.fit.tolerance)
        moved = [row for row in self.rows if row.move]
        off = [row for row in self.rows if row.outside]
        shift = [row for row in self.rows if row.span_off is not None]
        parts = []
        if shift:
            parts.append(f"First shift the {self._some([self._shift_short(row) for row in shift])}.")
        if off:
            parts.append(f"{self._cannot(off)} {self._some([self._stay_short(row) for row in off])}.")
            if moved:
                parts.append(f"For the best of it, {self._some([self._move(row) for row in moved])}.")
        elif moved:
            count = count_noun(len(moved), "hoop")
            parts.append(
                f"Ridge is within {within} of {self.line} but for {count}:"
                f" {self._some([self._move(row) for row in moved])}."
            )
        else:
            measured = len(self.rows)
            hoops = "the hoop" if measured == 1 else f"all {measured} hoops"
            parts.append(f"Ridge is within {within} of {self.line} at {hoops} measured: nothing to pull or push.")
        return " ".join(parts)

    def moves(self) -> list[str]:
        return [self._capital(self._move(row, self._both)) + "." for row in self.rows if row.move]

    def shifts(self) -> list[str]:
        """Hoops whose posts stand too far apart or too close."""
        lines = []
        for row in self.rows:
            if row.span_off is None or row.post_span is None:
                continue
            wide = row.span_off > 0
            more, way = ("more", "in") if wide else ("less", "out")
            off = self._both(abs(row.span_off))
            half = self._say(abs(row.span_off) / 2)
            lines.append(
                f"Hoop {row.hoop}: posts {self._say(row.post_span)} apart, {off} {more} than the"
                f" {self._say(self.fit.post_span)} wanted. Shift its ends {way} by that in all: the side that stands"
                f" out of the row of posts, or {half} on each side where both do."
            )
        return lines

    def stays(self) -> list[str]:
        """Hoops that no move brings within the tolerance."""
        lines = []
        for row in self.rows:
            if not row.outside:
                continue
            room = row.down if row.after > 0 else row.up
            used = (
                f"The {self._say(room)} of room in its posts is not enough."
                if not self.reachable and room - abs(row.move) < step_of(self.units)
                else f"Moves in steps of {self._say(step_of(self.units))} come no nearer."
                if self.reachable
                else "The line is held off it by hoops that have no room."
            )
            lines.append(
                f"Hoop {row.hoop} stays {self._small(abs(row.after), self._both)} {self._side(row)} the line,"
                f" {self._small(row.outside)} outside the tolerance. {used}"
            )
        return lines

    # Pieces

    def _say(self, length: Decimal) -> str:
        return _whole(length_text(length, self.units))

    def _both(self, length: Decimal) -> str:
        own, other = length_pair_text(length, self.units).split(" · ")
        return f"{_whole(own)} ({_whole(other)})"

    def _small(self, length: Decimal, text: Say | None = None) -> str:
        """A length that rounds to nothing is not nothing."""
        step = step_of(self.units)
        return (text or self._say)(length) if length >= step / 2 else f"less than {self._say(step)}"

    def _move(self, row: HoopRow, text: Say | None = None) -> str:
        how = ("pull", "up") if row.move > 0 else ("push", "down")
        return f"{how[0]} hoop {row.hoop} {how[1]} {(text or self._say)(abs(row.move))}"

    def _shift_short(self, row: HoopRow) -> str:
        assert row.span_off is not None
        return f"ends of hoop {row.hoop} {'in' if row.span_off > 0 else 'out'} by {self._say(abs(row.span_off))}"

    def _side(self, row: HoopRow) -> str:
        return "above" if row.after > 0 else "below"

    def _stay_short(self, row: HoopRow) -> str:
        return f"hoop {row.hoop} stays {self._small(abs(row.after))} {self._side(row)} the line"

    def _cannot(self, off: Sequence[HoopRow]) -> str:
        within = self._say(self.fit.tolerance)
        if len(off) == 1:
            return f"One hoop does not come within {within} of {self.line}:"
        return f"{len(off)} hoops do not come within {within} of {self.line}:"

    def _some(self, parts: Sequence[str]) -> str:
        """The first few, and how many more there are."""
        if len(parts) <= _NAMED:
            return ", ".join(parts)
        return f"{', '.join(parts[:_NAMED])}, and {len(parts) - _NAMED} more below"

    @staticmethod
    def _capital(text: str) -> str:
        return text[:1].upper() + text[1:]
