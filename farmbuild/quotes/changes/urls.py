"""Addresses of change orders, each under its job."""

from django.urls import path

from farmbuild.quotes.changes import views

_ONE = "jobs/<int:number>/changes/<int:change>/"
urlpatterns = [
    path("jobs/<int:number>/changes/new/", views.new, name="change-new"),
    path(_ONE, views.show, name="change"),
    path(f"{_ONE}lines/<int:at>/remove/", views.line_remove, name="change-line-remove"),
    path(f"{_ONE}drop/", views.drop, name="change-drop"),
    path(f"{_ONE}send/", views.send, name="change-send"),
    path(f"{_ONE}answer/", views.answer, name="change-answer"),
    path(f"{_ONE}link/", views.link_new, name="change-link"),
    path(f"{_ONE}change.pdf", views.pdf, name="change-pdf"),
    path(f"{_ONE}change.xlsx", views.workbook, name="change-workbook"),
]
