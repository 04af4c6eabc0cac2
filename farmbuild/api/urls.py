"""Addresses of the pages about other programs; those that the programs ask are in ``answers``."""

from django.urls import path

from farmbuild.api.views import tokens

app_name = "api"
urlpatterns = [
    path("programs/", tokens.show_all, name="tokens"),
    path("programs/new/", tokens.new, name="token-new"),
    path("programs/<int:pk>/", tokens.show, name="token"),
    path("programs/<int:pk>/end/", tokens.end, name="token-end"),
]
