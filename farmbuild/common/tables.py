"""Tables of every page: figures to the right, the unit in the heading, sums in the foot, the whole row a link."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from functools import cached_property
from inspect import signature
from typing import Any

import django_tables2 as tables

from farmbuild.common.money import format_amount, format_coins
from farmbuild.common.templatetags.farm import column_label, day, length
from farmbuild.measure import UnitSystem, round_money

FIGURE = {"cell": {"class": "figure"}, "tf": {"class": "figure"}}
#: Columns up to which a table stays a table on a page of that width; look.css has the widths.
_FEW, _SOME = 4, 6


class FarmTable(tables.Table):
    """Give ``organisation=`` or, through SingleTableMixin and RequestConfig, the request.

    ``row_link``: a function of the record that gives the address of its page, or None for no link.
    """

    row_link: Callable[[Any], str | None] | None = None

    class Meta:
        template_name = "tables/table.html"
        empty_text = "Nothing here yet."

    def __init__(self, *args: Any, organisation: Any = None, **kwargs: Any) -> None:
        kwargs.setdefault("template_name", "tables/table.html")
        super().__init__(*args, **kwargs)
        self._organisation = organisation

    @property
    def organisation(self) -> Any:
        if self._organisation is not None:
            return self._organisation
        return self.request.organisation

    def url_of(self, record: Any) -> str:
        link = type(self).row_link
        if link is None:
            return ""
        return (link(self, record) if self._link_takes_table else link(record)) or ""

    @cached_property
    def _link_takes_table(self) -> bool:
        return len(signature(type(self).row_link).parameters) == 2

    @property
    def body(self) -> Iterator[tuple[str, str, list[tuple[Any, str, Any, bool]]]]:
        """Rows of this page: address, classes, and for each cell its attributes, label, content and whether empty.

        What is the same all down a column is worked out once, which halves the time that a page of rows takes.
        """
        frames = [
            (column.attrs["td"].as_html(), column_label(self, column), column.default) for column in self.columns
        ]
        for row in self.paginated_rows:
            cells = [
                (attributes, label, cell, cell == default)
                for (attributes, label, default), (_, cell) in zip(frames, row.items(), strict=True)
            ]
            yield self.url_of(row.record), row.attrs["class"], cells

    @property
    def width_class(self) -> str:
        """Tables of more columns turn into labelled blocks on wider pages."""
        count = len(self.columns)
        return "few" if count <= _FEW else "some" if count <= _SOME else "many"


class _Figures(tables.Column):
    """A column of figures, summed in the foot over every row (not the page alone) with ``total=True``."""

    def __init__(self, *args: Any, total: bool = False, **kwargs: Any) -> None:
        kwargs.setdefault("attrs", FIGURE)
        self.total = total
        if total:
            kwargs["footer"] = self.sum_text
        super().__init__(*args, **kwargs)

    def values(self, table: FarmTable, bound_column: Any) -> list[Any]:
        found = (bound_column.accessor.resolve(record, quiet=True) for record in table.data)
        return [value for value in found if value is not None]

    def sum_text(self, table: FarmTable, bound_column: Any) -> str:
        values = (self.summed(value, table) for value in self.values(table, bound_column))
        return self.shown(sum(values, Decimal(0)), table)

    def summed(self, value: Any, table: FarmTable) -> Any:
        return value

    def render(self, value: Any, table: FarmTable) -> str:
        return self.shown(value, table)

    def unit_of(self, table: FarmTable) -> str:
        return ""

    def shown(self, value: Any, table: FarmTable) -> str:
        raise NotImplementedError


class LengthColumn(_Figures):
    """Decimal millimetres, shown in the reader's units with the other beside."""

    def unit_of(self, table: FarmTable) -> str:
        return "ft in" if table.organisation.unit_system == UnitSystem.IMPERIAL else "mm"

    def shown(self, value: Any, table: FarmTable) -> str:
        return length(value, table.organisation)


class MoneyColumn(_Figures):
    """Decimal money; the currency stands in the heading. Summed amounts are coins; others keep up to four places."""

    def unit_of(self, table: FarmTable) -> str:
        return table.organisation.currency

    def summed(self, value: Any, table: FarmTable) -> Decimal:
        """Rounded first, so that the foot is the sum of what stands above it."""
        return round_money(value, table.organisation.currency)

    def shown(self, value: Any, table: FarmTable) -> str:
        return (format_coins if self.total else format_amount)(value, table.organisation.currency)


class QuantityColumn(_Figures):
    """Counts or decimals, with ``unit`` in the heading."""

    def __init__(self, *args: Any, unit: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unit = unit

    def unit_of(self, table: FarmTable) -> str:
        return self.unit

    def shown(self, value: Any, table: FarmTable) -> str:
        return f"{value.normalize():,f}" if isinstance(value, Decimal) else f"{value:,}"


class DayColumn(tables.Column):
    """A date, as 3 May 2027."""

    def render(self, value: Any) -> str:
        return day(value)
