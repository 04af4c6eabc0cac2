"""Addresses of the pages about other programs; those that the programs ask are in ``answers``."""

from django.urls import path

from farmbuild.api.views import tokens, webhooks

app_name = "api"
urlpatterns = [
    path("programs/", tokens.show_all, name="tokens"),
    path("programs/new/", tokens.new, name="token-new"),
    path("programs/webhooks/", webhooks.show_all, name="webhooks"),
    path("programs/webhooks/new/", webhooks.new, name="webhook-new"),
    path("programs/webhooks/<int:pk>/", webhooks.show, name="webhook"),
    path("programs/webhooks/<int:pk>/trial/", webhooks.trial, name="webhook-trial"),
    path("programs/webhooks/<int:pk>/secret/", webhooks.secret, name="webhook-secret"),
    path("programs/webhooks/<int:pk>/token/", webhooks.token, name="webhook-token"),
    path("programs/webhooks/<int:pk>/stop/", webhooks.stop, name="webhook-stop"),
    path("programs/webhooks/<int:pk>/start/", webhooks.start, name="webhook-start"),
    path("programs/webhooks/<int:pk>/end/", webhooks.end, name="webhook-end"),
    path("programs/<int:pk>/", tokens.show, name="token"),
    path("programs/<int:pk>/end/", tokens.end, name="token-end"),
]
