"""Addresses of availability."""

from django.urls import path

from farmbuild.stock.availability import views

urlpatterns = [
    path("", views.everything, name="availability"),
    path("<slug:code>/", views.one, name="availability-of"),
]
