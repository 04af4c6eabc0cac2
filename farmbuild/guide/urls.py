"""Addresses of the guide."""

from django.urls import path

from farmbuild.guide import views

app_name = "guide"
urlpatterns = [
    path("guide/", views.guide, name="guide"),
    path("guide/words/", views.words, name="words"),
    path("guide/on-paper/", views.on_paper, name="on-paper"),
    path("guide/<slug:job>/", views.job, name="job"),
]
