"""Addresses of this app."""

from django.urls import path

from farmbuild.moving import views

app_name = "moving"
urlpatterns = [
    path("organisation/export/", views.export, name="export"),
    path("organisation/export/progress/", views.progress, name="export-progress"),
    path("organisation/export/download/", views.download, name="export-download"),
    path("people/<int:pk>/erase/", views.erase, name="erase"),
    path("account/erase/", views.erase_own, name="erase-own"),
]
