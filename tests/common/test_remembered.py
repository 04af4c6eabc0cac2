"""What is drawn once is drawn again for other values, another decimal sign and another language."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.utils import translation

from farmbuild.common.remembered import drawn_once
from farmbuild.measure import POINT, NumberStyle, format_decimal, use_style


@dataclass(frozen=True)
class Drawing:
    width: int

    @drawn_once
    def svg(self, words: str) -> str:
        DRAWN.append(words)
        return f"{words} {format_decimal(self.width + Decimal('0.5'))} {translation.get_language()}"


DRAWN: list[str] = []


def test_by_all_that_it_depends_on():
    DRAWN.clear()
    assert Drawing(1).svg("a") == Drawing(1).svg("a")
    assert DRAWN == ["a"]
    assert Drawing(2).svg("a") != Drawing(1).svg("a")
    assert Drawing(1).svg("b") != Drawing(1).svg("a")
    assert DRAWN == ["a", "a", "b"]
    with use_style(NumberStyle(",", " ")):
        assert "1,5" in Drawing(1).svg("a")
    with use_style(POINT), translation.override("es"):
        assert Drawing(1).svg("a").endswith("1.5 es")
    assert len(DRAWN) == 5
