"""Addresses of recipes."""

from django.urls import include, path

from farmbuild.hoops import views

app_name = "hoops"
urlpatterns = [
    path("", include("farmbuild.hoops.batches.urls")),
    path("", include("farmbuild.hoops.benders.urls")),
    path("", include("farmbuild.hoops.fits.urls")),
    path("hoops/", views.RecipeList.as_view(), name="recipes"),
    path("hoops/new/", views.create, name="recipe-new"),
    path("hoops/<slug:slug>/", views.show, name="recipe"),
    path("hoops/<slug:slug>/edit/", views.edit, name="recipe-edit"),
    path("hoops/<slug:slug>/archive/", views.archive, name="recipe-archive"),
    path("hoops/<slug:slug>/bring-back/", views.bring_back, name="recipe-bring-back"),
    path("hoops/<slug:slug>/delete/", views.delete, name="recipe-delete"),
]
