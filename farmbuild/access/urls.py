"""Addresses of one's own sign-in."""

from django.urls import path

from farmbuild.access.views import account

app_name = "access"
urlpatterns = [
    path("account/", account.show, name="account"),
    path("account/name/", account.name, name="name"),
    path("account/second-step/", account.step_on, name="step-on"),
    path("account/second-step/paper/", account.step_papers, name="step-papers"),
    path("account/second-step/off/", account.step_off, name="step-off"),
    path("account/sign-ins/", account.sign_ins, name="sign-ins"),
    path("account/sign-ins/end/", account.end, name="sign-ins-end"),
    path("account/log/", account.own_log, name="own-log"),
]
