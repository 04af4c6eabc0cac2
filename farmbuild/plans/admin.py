"""Plans may be looked at, not changed: a snapshot is never rewritten."""

from django.contrib import admin
from django.http import HttpRequest

from farmbuild.common.admin import ReadOnlyAdmin
from farmbuild.plans.models import Plan


@admin.register(Plan)
class PlanAdmin(ReadOnlyAdmin):
    list_display = ("number", "name", "organisation", "state", "as_of", "created_at")
    list_filter = ("organisation", "state")
    list_select_related = ("organisation",)
    # The snapshots run to megabytes; their digests say whether two are equal.
    fields = (
        "number",
        "name",
        "organisation",
        "state",
        "as_of",
        "delivery_site",
        "created_at",
        "created_by",
        "inputs_digest",
        "result_digest",
        "problem",
    )

    def get_queryset(self, request: HttpRequest):
        return super().get_queryset(request).defer("inputs", "result")
