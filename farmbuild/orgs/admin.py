"""Who belongs where, for whoever keeps the machine: organisations and the people in them are made and changed here by
the services that their own pages use."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import admin, messages
from django.contrib.auth.admin import UserAdmin
from django.contrib.auth.models import Group
from django.core.exceptions import ValidationError
from django.db import transaction
from django.forms import BaseInlineFormSet, ModelForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from farmbuild.common.admin import is_keeper
from farmbuild.orgs.accounts import create_organisation
from farmbuild.orgs.currency import why_fixed
from farmbuild.orgs.models import Membership, Organisation, User
from farmbuild.orgs.owners import an_owner_stays, organisations_of
from farmbuild.orgs.services import FIELDS, save_organisation

# What people may do is said by their role in an organisation (``acts.py``).
admin.site.unregister(Group)


@admin.register(User)
class KeptUserAdmin(UserAdmin):
    """Nobody is deleted, for what they did stays theirs; closed, nobody signs in with it."""

    fieldsets = (
        (None, {"fields": ("username", "password")}),
        ("Person", {"fields": ("first_name", "last_name", "email", "language", "units", "large_letters")}),
        ("Sign-in", {"fields": ("is_active", "is_staff", "is_superuser", "last_login", "date_joined")}),
    )
    readonly_fields = ("last_login", "date_joined")
    list_filter = ("is_active", "is_superuser", "visitor")

    def has_delete_permission(self, request: HttpRequest, obj: User | None = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: User | None = None) -> bool:
        """Sign-ins of visitors are opened and closed where their member is."""
        return is_keeper(request) and not (obj and obj.visitor)

    def changeform_view(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        return _told(request, lambda: super(KeptUserAdmin, self).changeform_view(request, *args, **kwargs))

    def save_model(self, request: HttpRequest, obj: User, form: ModelForm, change: bool) -> None:
        closed = change and "is_active" in form.changed_data
        with an_owner_stays(organisations_of(obj) if closed else []):
            super().save_model(request, obj, form, change)


def _told(request: HttpRequest, change: Callable[[], HttpResponse]) -> HttpResponse:
    """Where a service refuses, all of it was taken back, and the page says why."""
    try:
        return change()
    except ValidationError as error:
        for words in error.messages:
            messages.error(request, words)
        return redirect(request.get_full_path())


class _AnOwnerStays(BaseInlineFormSet):
    def clean(self) -> None:
        super().clean()
        stay = [form for form in self.forms if form.cleaned_data and form not in self.deleted_forms]
        if self.initial_forms and not any(form.cleaned_data["role"] == Membership.Role.OWNER for form in stay):
            raise ValidationError("Somebody has to own it. Make another an owner first.")


class MembershipInline(admin.TabularInline):
    model = Membership
    formset = _AnOwnerStays
    fields = ("user", "role")
    extra = 1
    autocomplete_fields = ["user"]


@admin.register(Organisation)
class OrganisationAdmin(admin.ModelAdmin):
    list_display = ["name", "unit_system", "currency", "time_zone"]
    search_fields = ["name"]
    fields = ("slug", *FIELDS)
    inlines = [MembershipInline]

    def has_delete_permission(self, request: HttpRequest, obj: Organisation | None = None) -> bool:
        return False

    def changeform_view(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        return _told(request, lambda: super(OrganisationAdmin, self).changeform_view(request, *args, **kwargs))

    def save_formset(self, request: HttpRequest, form: ModelForm, formset: BaseInlineFormSet, change: bool) -> None:
        with an_owner_stays([form.instance] if change else []):
            super().save_formset(request, form, formset, change)

    @transaction.atomic
    def save_model(self, request: HttpRequest, obj: Organisation, form: ModelForm, change: bool) -> None:
        data = {name: form.cleaned_data[name] for name in form.changed_data if name in form.cleaned_data}
        if change:
            save_organisation(organisation=obj, user=None, data=data)
        else:
            obj.pk = create_organisation(**data).pk
        obj.refresh_from_db()

    def get_prepopulated_fields(self, request: HttpRequest, obj: Organisation | None = None) -> dict[str, list[str]]:
        return {} if obj else {"slug": ["name"]}

    def get_readonly_fields(self, request: HttpRequest, obj: Organisation | None = None) -> list[str]:
        """The slug, so that bookmarks and labels lead on; the currency, once anything is priced in it."""
        return [*(["slug"] if obj else []), *(["currency"] if obj and why_fixed(obj) else [])]
