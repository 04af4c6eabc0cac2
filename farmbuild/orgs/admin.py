"""Who belongs where, for whoever runs the server."""

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.forms import ModelForm
from django.http import HttpRequest

from farmbuild.orgs.currency import why_fixed
from farmbuild.orgs.models import Membership, Organisation, User
from farmbuild.orgs.signals import units_changed

admin.site.register(User, UserAdmin)


class MembershipInline(admin.TabularInline):
    model = Membership
    extra = 1
    autocomplete_fields = ["user"]


@admin.register(Organisation)
class OrganisationAdmin(admin.ModelAdmin):
    list_display = ["name", "unit_system", "currency", "time_zone"]
    search_fields = ["name"]
    inlines = [MembershipInline]

    def save_model(self, request: HttpRequest, obj: Organisation, form: ModelForm, change: bool) -> None:
        super().save_model(request, obj, form, change)
        if change and "unit_system" in form.changed_data:
            units_changed.send(Organisation, organisation=obj, before=form.initial["unit_system"])

    def get_prepopulated_fields(self, request: HttpRequest, obj: Organisation | None = None) -> dict[str, list[str]]:
        return {} if obj else {"slug": ["name"]}

    def get_readonly_fields(self, request: HttpRequest, obj: Organisation | None = None) -> list[str]:
        """The address, so that bookmarks and labels lead on, and the currency, once anything is priced in it."""
        return ["slug", *["currency"] * bool(why_fixed(obj))] if obj else []
