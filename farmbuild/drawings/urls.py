"""Addresses of the drawing set of a house."""

from django.urls import path

from farmbuild.drawings import views

app_name = "drawings"
urlpatterns = [
    path("houses/<slug:slug>/drawings/", views.show, name="set"),
    path("houses/<slug:slug>/drawings/pdf/", views.pdf, name="pdf"),
    path("houses/<slug:slug>/drawings/dxf/", views.dxf, name="dxf"),
]
