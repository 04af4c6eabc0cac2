"""Addresses for customers: outside of organisations, and nobody signs in."""

from django.urls import path

from farmbuild.quotes.offered import views

urlpatterns = [
    path("offered/<str:secret>/", views.show, name="offered"),
    path("offered/<str:secret>/quote.pdf", views.pdf, name="offered-pdf"),
]
