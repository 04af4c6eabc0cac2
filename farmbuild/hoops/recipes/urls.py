"""Addresses of recipes."""

from django.urls import path

from farmbuild.hoops.recipes.views import recipes

urlpatterns = [
    path("hoops/", recipes.RecipeList.as_view(), name="recipes"),
    path("hoops/new/", recipes.create, name="recipe-new"),
    path("hoops/<slug:slug>/", recipes.show, name="recipe"),
    path("hoops/<slug:slug>/edit/", recipes.edit, name="recipe-edit"),
    path("hoops/<slug:slug>/archive/", recipes.archive, name="recipe-archive"),
    path("hoops/<slug:slug>/bring-back/", recipes.bring_back, name="recipe-bring-back"),
    path("hoops/<slug:slug>/delete/", recipes.delete, name="recipe-delete"),
]
