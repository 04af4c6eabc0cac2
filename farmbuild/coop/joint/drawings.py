"""Members' pieces or amounts as bars of one scale a group: filled what is there, dashed the rest."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import partial

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.drawing import Drawing
from farmbuild.common.speaking import said_list
from farmbuild.measure import format_about, format_count

Amount = int | Decimal
Say = Callable[[Amount], str]
#: On the sheet: a bar with its name beside it or, where a name is long, over it.
_NAME, _BESIDE, _OVER = 118.0, 130.0, 216.0
_ROW, _TWO_LINES, _HEADING = 22.0, 36.0, 30.0
_LETTERS, _MOST_LETTERS = 16, 44
#: More rows of one material would push the table off every phone; the rest is one bar.
MOST_ROWS = 16


@dataclass(frozen=True)
class Bar:
    """``whole``: pieces, or money; ``there``: of it, None where all of it is."""

    name: str
    whole: Amount
    there: Amount | None = None

    @property
    def filled(self) -> Amount:
        return self.whole if self.there is None else self.there


@dataclass(frozen=True)
class Bars:
    """Bars of one scale, in the order in which they stand."""

    what: str
    bars: Sequence[Bar]

    @property
    def whole(self) -> Amount:
        return sum(bar.whole for bar in self.bars)


def bars_drawn(groups: Sequence[Bars], title: str, *, currency: str = "") -> SafeString | str:
    """Every number is in the description too. Empty where there is nothing. ``currency``: of amounts of money."""
    shown = [Bars(group.what, _few(group.bars)) for group in groups if group.whole]
    if not shown:
        return ""
    say: Say = partial(_about, currency=currency) if currency else format_count
    over = any(len(bar.name) > _LETTERS for group in shown for bar in group.bars)
    row, longest = (_TWO_LINES, _OVER) if over else (_ROW, _BESIDE)
    high = sum(_HEADING + row * len(group.bars) for group in shown)
    told = " ".join(_told(group, say) for group in shown)
    drawing = Drawing(_NAME + _BESIDE + 32, high, title, told, tallest=high, scale=1.0)
    y = high
    for group in shown:
        y -= _HEADING
        drawing.text(0, y + 8, f"{group.what}: {say(group.whole)}", "mark", anchor="start")
        most = float(max(max(bar.whole, bar.filled) for bar in group.bars))
        for bar in group.bars:
            y -= row
            if over:
                drawing.text(0, y + 21, _short(bar.name), anchor="start")
            else:
                drawing.text(_NAME - 6, y + 5, bar.name, anchor="end")
            _draw(drawing, bar, 0.0 if over else _NAME, y, longest / most, say)
    return drawing.svg()


def _about(amount: Amount, *, currency: str) -> str:
    return format_about(Decimal(amount), currency)


def _draw(drawing: Drawing, bar: Bar, x: float, y: float, scale: float, say: Say) -> None:
    whole, filled = float(bar.whole) * scale, float(bar.filled) * scale
    if filled:
        drawing.rect(x, y + 3, filled, 14, "seen fill")
    if filled < whole:
        drawing.rect(x + filled, y + 3, whole - filled, 14, "dash")
    figure = say(bar.whole) if bar.filled == bar.whole else _of(say(bar.filled), say(bar.whole))
    drawing.text(x + max(filled, whole) + 5, y + 5, figure, anchor="start")


def _of(filled: str, whole: str) -> str:
    return gettext("%(filled)s of %(whole)s") % {"filled": filled, "whole": whole}


def _few(bars: Sequence[Bar]) -> list[Bar]:
    if len(bars) <= MOST_ROWS:
        return list(bars)
    rest = bars[MOST_ROWS - 1 :]
    there = None if all(bar.there is None for bar in rest) else sum(bar.filled for bar in rest)
    name = gettext("%(count)s others") % {"count": format_count(len(rest))}
    return [*bars[: MOST_ROWS - 1], Bar(name, sum(bar.whole for bar in rest), there)]


def _short(name: str) -> str:
    return name if len(name) <= _MOST_LETTERS else f"{name[: _MOST_LETTERS - 1].rstrip()}…"


def _told(group: Bars, say: Say) -> str:
    return f"{group.what}: {said_list([_said(bar, say) for bar in group.bars])}."


def _said(bar: Bar, say: Say) -> str:
    filled = "" if bar.filled == bar.whole else gettext(", %(filled)s filled") % {"filled": say(bar.filled)}
    return f"{bar.name} {say(bar.whole)}{filled}"
