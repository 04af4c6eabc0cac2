"""Who belongs where, for whoever runs the server."""

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin

from farmbuild.orgs.models import Membership, Organisation, User

admin.site.register(User, UserAdmin)


class MembershipInline(admin.TabularInline):
    model = Membership
    extra = 1
    autocomplete_fields = ["user"]


@admin.register(Organisation)
class OrganisationAdmin(admin.ModelAdmin):
    list_display = ["name", "unit_system", "currency", "time_zone"]
    search_fields = ["name"]
    prepopulated_fields = {"slug": ["name"]}
    inlines = [MembershipInline]
