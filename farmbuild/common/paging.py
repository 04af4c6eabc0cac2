"""The page of a table that an address asks for: its number, its order, and how many rows, within bounds.

Every table of a page comes by here (``tests/quality/test_odd_queries.py``): what an address asks is anybody's to type.
"""

from __future__ import annotations

from typing import Any, TypeVar

from django.http import HttpRequest
from django_tables2 import RequestConfig, SingleTableView

from farmbuild.common.tables import USUAL_ROWS, FarmTable

Asked = TypeVar("Asked", bound=FarmTable)


def paged(request: HttpRequest, table: Asked, *, rows: int | None = USUAL_ROWS, **paging: Any) -> Asked:
    """``rows``: on a page, where the address asks for no number that may be asked for. None: all, in the order asked
    for, of a table that people fill press by press. ``paging`` goes to the paginator."""
    if rows is None:
        return RequestConfig(request, paginate=False).configure(table)
    table.rows_a_page = rows
    return RequestConfig(request, paginate={"per_page": rows, **paging}).configure(table)


class PagedTables(SingleTableView):
    """A list that is one table."""

    rows_a_page = USUAL_ROWS

    def get_table(self, **kwargs: Any) -> FarmTable:
        table = self.get_table_class()(data=self.get_table_data(), **kwargs)
        return paged(self.request, table, rows=self.rows_a_page)
