"""Tables of every page: figures to the right, the unit in the heading, sums in the foot, the whole row a link."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from decimal import Decimal
from inspect import signature
from typing import Any

import django_tables2 as tables
from django.utils.html import format_html_join, strip_tags
from django.utils.safestring import SafeString, mark_safe

from farmbuild.common.markup import escaped, markup
from farmbuild.common.money import format_amount, format_coins
from farmbuild.common.reading import units_of
from farmbuild.common.templatetags.farm import column_unit, day, length
from farmbuild.measure import UnitSystem, amounts_shown, format_count, format_decimal, round_money

FIGURE = {"cell": {"class": "figure"}, "tf": {"class": "figure"}}
#: Columns up to which a table stays a table on a page of that width; tables.css has the widths.
_FEW, _SOME = 4, 6
#: Columns that the second line of a phone's row has room for.
BELOW = 3
#: Rows of a page, and what else an address may ask for (``common/paging.py``).
USUAL_ROWS = 25
ROWS_ASKED = (25, 50, 100)


class FarmTable(tables.Table):
    """Give ``organisation=`` or, through ``paged``, the request."""

    #: Names of columns as a row has them on a phone: a name and a figure on the first line, then the second line.
    #: A column in neither is told on the page that the row leads to. None: what ``_usual_places`` says.
    phone: tuple[tuple[str, ...], tuple[str, ...]] | None = None
    #: Words before a value on a phone, by column, where the heading is too long or is not needed.
    phone_words: Mapping[str, str] = {}
    #: Columns that say nothing on a phone where they are 0 or no.
    phone_quiet: Collection[str] = ()
    #: Where the address asks for no other number.
    rows_a_page = USUAL_ROWS

    class Meta:
        template_name = "tables/table.html"
        empty_text = "Nothing here yet."

    def __init__(self, *args: Any, organisation: Any = None, **kwargs: Any) -> None:
        kwargs.setdefault("template_name", "tables/table.html")
        if not amounts_shown():
            # Left out, not hidden: it cannot be sorted by either.
            money = [name for name, column in self.base_columns.items() if isinstance(column, MoneyColumn)]
            kwargs["exclude"] = (*(kwargs.get("exclude") or ()), *money)
        super().__init__(*args, **kwargs)
        self._organisation = organisation

    @property
    def organisation(self) -> Any:
        if self._organisation is not None:
            return self._organisation
        return self.request.organisation

    def paginate(self, *args: Any, per_page: int | None = None, page: int = 1, **kwargs: Any) -> FarmTable:
        """Both numbers may come from the address: a page of any length would be asked of the machine."""
        per_page = per_page if per_page in ROWS_ASKED else self.rows_a_page
        return super().paginate(*args, per_page=per_page, page=max(1, page), **kwargs)

    def row_link(self, record: Any) -> str | None:
        """The address of the record's page; None for no link."""
        return None

    @classmethod
    def leads_on(cls) -> bool:
        """Whether rows may have a page of their own."""
        return cls.row_link is not FarmTable.row_link

    def phone_places(self) -> dict[str, str]:
        """Where each column stands on a phone: "name", "figure", its number on the second line, or "away"."""
        names = [column.name for column in self.columns]
        first, below = self.phone or self._usual_places(names)
        first = tuple(name for name in first if name in names) or tuple(names[:1])
        below = tuple(name for name in below if name in names and name not in first)
        if not self.leads_on():
            below += tuple(name for name in names if name not in first + below)
        places = dict.fromkeys(names, "away")
        places |= {name: str(at) for at, name in enumerate(below, 1)}
        return places | {first[0]: "name"} | dict.fromkeys(first[1:], "figure")

    def _usual_places(self, names: list[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """The first column, the first count or sum of money; then those that come next."""
        name, *rest = names
        figures = [one for one in rest if isinstance(self.columns[one].column, (QuantityColumn, MoneyColumn))][:1]
        return (name, *figures), tuple(one for one in rest if one not in figures)[:BELOW]

    @property
    def phone_cells(self) -> list[tuple[Any, SafeString]]:
        """Columns, each with what its cells carry for a phone: where they stand, the words before, the unit after."""
        places = self.phone_places()
        last = max((place for place in places.values() if place.isdigit()), default="")
        return [
            (column, _for_phone(self, column, places[column.name], last=places[column.name] == last))
            for column in self.columns
        ]

    @property
    def body(self) -> Iterator[tuple[str, str, SafeString]]:
        """Rows of this page: address, classes, and the cells as markup.

        What is the same all down a column is worked out once and a cell is put together here, not by the template:
        that takes a third of the time, and every list page is mostly cells.
        """
        down = [_ColumnCells(self, *cell, first=not at) for at, cell in enumerate(self.phone_cells)]
        for row in self.paginated_rows:
            url = self.row_link(row.record) or ""
            # Working out attributes that no table sets takes longer than the rest of a row.
            css = row.attrs["class"] if self.row_attrs else row.get_even_odd_css_class()
            yield url, css, mark_safe("".join([column.cell(row, url) for column in down]))

    @property
    def width_class(self) -> str:
        """Tables of more columns turn into labelled blocks on wider pages."""
        count = len(self.columns)
        return "few" if count <= _FEW else "some" if count <= _SOME else "many"


class _ColumnCells:
    """One column on its way down a page."""

    def __init__(self, table: FarmTable, column: Any, on_phone: SafeString, *, first: bool) -> None:
        self.table, self.column, self.first = table, column, first
        self.default, self.empty = column.default, column.column.empty_values
        self.attributes = markup("{} {}", column.attrs["td"].as_html(), on_phone)
        takes = signature(column.render).parameters.values()
        self.takes = None if any(part.kind is part.VAR_KEYWORD for part in takes) else [part.name for part in takes]
        self.accessor = tables.A(column.accessor)
        self.by_type: dict[type, bool] = {}
        self.quiet = column.name in table.phone_quiet

    def cell(self, row: Any, url: str) -> str:
        """Markup. The attributes are safe and what is in the cell is escaped here."""
        content = self._content(row)
        if self.first:
            inside = f'<a class="row-link" href="{escaped(url)}">{escaped(content)}</a>' if url else escaped(content)
            return f'<th role="rowheader" scope="row" {self.attributes}>{inside}</th>'
        nothing = content in (self.default, "") or (self.quiet and not self.accessor.resolve(row.record, quiet=True))
        empty = " data-empty" if nothing else ""
        return f'<td role="cell" {self.attributes}{empty}><div>{escaped(content)}</div></td>'

    def _content(self, row: Any) -> Any:
        """What django-tables2 puts into the cell, by a short way where the column is one key or attribute."""
        column, record = self.column, row.record
        if column.link:
            return row.get_cell(column.name)
        kind = type(record)
        plain = self.by_type.get(kind)
        if plain is None:
            plain = self.by_type[kind] = self._is_one_step(kind)
        if plain:
            value = record.get(self.accessor) if kind is dict else getattr(record, self.accessor, None)
            if not callable(value):
                return self.default if value in self.empty else self._render(row)(column, value)
        return row._get_and_render_with(column, self._render(row), column.default)

    def _is_one_step(self, kind: type) -> bool:
        """Neither a path, nor a place in the record, nor a choice that a model shows in words."""
        if len(self.accessor.bits) != 1 or (kind is not dict and hasattr(kind, "__getitem__")):
            return False
        return not hasattr(kind, f"get_{self.accessor}_display") and not isinstance(
            self.column.column, (tables.ManyToManyColumn, tables.columns.linkcolumn.BaseLinkColumn)
        )

    def _render(self, row: Any) -> Callable[..., Any]:
        def render(column: Any, value: Any = None) -> Any:
            given = {
                "value": value,
                "record": row.record,
                "column": column.column,
                "bound_column": column,
                "bound_row": row,
                "table": self.table,
            }
            return column.render(**(given if self.takes is None else {name: given[name] for name in self.takes}))

        return render


def _for_phone(table: FarmTable, column: Any, place: str, *, last: bool) -> SafeString:
    """Figures and days say what they are; other words speak for themselves, but where their table says otherwise."""
    kind = column.column
    tells = isinstance(kind, DayColumn) or "figure" in (column.attrs["td"].get("class") or "")
    usual = strip_tags(str(column.header)) if tells and place != "name" else ""
    words = table.phone_words.get(column.name, usual)
    # A length has its marks with it.
    unit = "" if isinstance(kind, LengthColumn) else column_unit(table, column)
    return markup('data-at="{}"{}', place, mark_safe(" data-rest" if last and not tells else "")) + format_html_join(
        "", ' data-{}="{}"', ((name, said) for name, said in (("label", words), ("unit", unit)) if said)
    )


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
        return "ft in" if units_of(table.organisation) == UnitSystem.IMPERIAL else "mm"

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
        return format_decimal(value.normalize()) if isinstance(value, Decimal) else format_count(value)


class DayColumn(tables.Column):
    """A date, as 3 May 2027."""

    def render(self, value: Any) -> str:
        return day(value)
