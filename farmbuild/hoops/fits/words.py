"""The answer of a fit in sentences."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext

from farmbuild.common.lengths import length_pair_text, length_text
from farmbuild.common.speaking import said_count
from farmbuild.hoops.fits.bridge import step_of
from farmbuild.hoops.fits.models import HouseFit
from farmbuild.hoops.fits.sighted import HoopRow

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
            return gettext("one straight line")
        if slope == 0:
            return gettext("a level line")
        run = _RUN[self.units]
        words = (
            gettext("a line rising %(slope)s in %(run)s towards the back")
            if slope > 0
            else gettext("a line falling %(slope)s in %(run)s towards the back")
        )
        return words % {"slope": self._small(abs(slope) * run), "run": self._say(run)}

    def answer(self) -> str:
        within = self._say(self.fit.tolerance)
        moved = [row for row in self.rows if row.move]
        off = [row for row in self.rows if row.outside]
        shift = [row for row in self.rows if row.span_off is not None]
        parts = []
        if shift:
            parts.append(
                gettext("First shift the %(some)s.") % {"some": self._some([self._shift_short(row) for row in shift])}
            )
        if off:
            parts.append(f"{self._cannot(off)} {self._some([self._stay(row) for row in off])}.")
            if moved:
                parts.append(
                    gettext("For the best of it, %(some)s.") % {"some": self._some([self._move(row) for row in moved])}
                )
        elif moved:
            count = said_count(len(moved), "hoop")
            parts.append(
                gettext("Ridge is within %(within)s of %(line)s but for %(count)s: %(some)s.")
                % {
                    "within": within,
                    "line": self.line,
                    "count": count,
                    "some": self._some([self._move(row) for row in moved]),
                }
            )
        else:
            measured = len(self.rows)
            hoops = gettext("the hoop") if measured == 1 else gettext("all %(measured)s hoops") % {"measured": measured}
            parts.append(
                gettext("Ridge is within %(within)s of %(line)s at %(hoops)s measured: nothing to pull or push.")
                % {"within": within, "line": self.line, "hoops": hoops}
            )
        return " ".join(parts)

    def moves(self) -> list[str]:
        return [self._capital(self._move(row, self._both)) + "." for row in self.rows if row.move]

    def shifts(self) -> list[str]:
        """Hoops whose posts stand too far apart or too close."""
        lines = []
        for row in self.rows:
            if row.span_off is None or row.post_span is None:
                continue
            words = (
                gettext(
                    "Hoop %(hoop)s: posts %(post_span)s apart, %(off)s more than the %(wanted)s wanted. Shift its ends"
                    " in by that in all: the side that stands out of the row of posts, or %(half)s on each side where"
                    " both do."
                )
                if row.span_off > 0
                else gettext(
                    "Hoop %(hoop)s: posts %(post_span)s apart, %(off)s less than the %(wanted)s wanted. Shift its ends"
                    " out by that in all: the side that stands out of the row of posts, or %(half)s on each side where"
                    " both do."
                )
            )
            lines.append(
                words
                % {
                    "hoop": row.hoop,
                    "post_span": self._say(row.post_span),
                    "off": self._both(abs(row.span_off)),
                    "wanted": self._say(self.fit.post_span),
                    "half": self._say(abs(row.span_off) / 2),
                }
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
                gettext("The %(room)s of room in its posts is not enough.") % {"room": self._say(room)}
                if not self.reachable and room - abs(row.move) < step_of(self.units)
                else gettext("Moves in steps of %(step)s come no nearer.") % {"step": self._say(step_of(self.units))}
                if self.reachable
                else gettext("The line is held off it by hoops that have no room.")
            )
            words = (
                gettext("Hoop %(hoop)s stays %(after)s above the line, %(outside)s outside the tolerance. %(used)s")
                if row.after > 0
                else gettext(
                    "Hoop %(hoop)s stays %(after)s below the line, %(outside)s outside the tolerance. %(used)s"
                )
            )
            lines.append(
                words
                % {
                    "hoop": row.hoop,
                    "after": self._small(abs(row.after), self._both),
                    "outside": self._small(row.outside),
                    "used": used,
                }
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
        return (
            (text or self._say)(length)
            if length >= step / 2
            else gettext("less than %(step)s") % {"step": self._say(step)}
        )

    def _move(self, row: HoopRow, text: Say | None = None) -> str:
        words = gettext("pull hoop %(hoop)s up %(by)s") if row.move > 0 else gettext("push hoop %(hoop)s down %(by)s")
        return words % {"hoop": row.hoop, "by": (text or self._say)(abs(row.move))}

    def _shift_short(self, row: HoopRow) -> str:
        assert row.span_off is not None
        words = (
            gettext("ends of hoop %(hoop)s in by %(by)s")
            if row.span_off > 0
            else gettext("ends of hoop %(hoop)s out by %(by)s")
        )
        return words % {"hoop": row.hoop, "by": self._say(abs(row.span_off))}

    def _stay(self, row: HoopRow, text: Say | None = None) -> str:
        words = (
            gettext("hoop %(hoop)s stays %(after)s above the line")
            if row.after > 0
            else gettext("hoop %(hoop)s stays %(after)s below the line")
        )
        return words % {"hoop": row.hoop, "after": self._small(abs(row.after), text)}

    def _cannot(self, off: Sequence[HoopRow]) -> str:
        within = self._say(self.fit.tolerance)
        if len(off) == 1:
            return gettext("One hoop does not come within %(within)s of %(line)s:") % {
                "within": within,
                "line": self.line,
            }
        return gettext("%(count)s hoops do not come within %(within)s of %(line)s:") % {
            "count": len(off),
            "within": within,
            "line": self.line,
        }

    def _some(self, parts: Sequence[str]) -> str:
        """The first few, and how many more there are."""
        if len(parts) <= _NAMED:
            return ", ".join(parts)
        return gettext("%(parts)s, and %(more)s more below") % {
            "parts": ", ".join(parts[:_NAMED]),
            "more": len(parts) - _NAMED,
        }

    @staticmethod
    def _capital(text: str) -> str:
        return text[:1].upper() + text[1:]
