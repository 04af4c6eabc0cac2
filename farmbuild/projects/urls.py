"""Addresses of the project workbook."""

from django.urls import path

from farmbuild.projects import views

app_name = "projects"
urlpatterns = [
    path("project/", views.project, name="project"),
    path("project/workbook/", views.workbook, name="workbook"),
    path("project/template/", views.template, name="template"),
    path("project/read/<int:pk>/", views.preview, name="preview"),
    path("project/read/<int:pk>/store/", views.store, name="store"),
]
