from django.contrib import admin

from farmbuild.common.admin import ReadOnlyAdmin
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.recipes.models import Recipe


@admin.register(Recipe)
class RecipeAdmin(ReadOnlyAdmin):
    list_display = ("name", "tube", "sticks", "radius", "organisation")
    list_filter = ("organisation",)
    list_select_related = ("tube", "organisation")
    search_fields = ("name",)


@admin.register(Bender)
class BenderAdmin(ReadOnlyAdmin):
    list_display = ("name", "rated_radius", "rated_span", "owner", "kept_at", "organisation")
    list_filter = ("organisation",)
    list_select_related = ("organisation",)
    search_fields = ("name", "owner")
