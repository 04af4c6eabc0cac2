from django.contrib import admin

from farmbuild.hoops.models import Recipe


@admin.register(Recipe)
class RecipeAdmin(admin.ModelAdmin):
    list_display = ("name", "tube", "sticks", "radius", "organisation")
    list_filter = ("organisation",)
    list_select_related = ("tube", "organisation")
    search_fields = ("name",)
