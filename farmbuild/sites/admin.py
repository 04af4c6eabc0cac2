from django.contrib import admin

from farmbuild.common.admin import ReadOnlyAdmin
from farmbuild.sites.models import House, Site


@admin.register(Site)
class SiteAdmin(ReadOnlyAdmin):
    list_display = ("name", "organisation", "archived_at")
    list_filter = ("organisation",)
    search_fields = ("name",)


@admin.register(House)
class HouseAdmin(ReadOnlyAdmin):
    list_display = ("name", "site", "organisation", "need_date", "archived_at")
    list_filter = ("organisation",)
    list_select_related = ("site", "organisation")
    search_fields = ("name",)
