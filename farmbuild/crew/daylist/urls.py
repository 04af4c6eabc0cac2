"""Addresses of the list of a day."""

from django.urls import path

from farmbuild.crew.daylist import views

urlpatterns = [
    path("crew/day/", views.show, name="day"),
    path("crew/day/<int:pk>/tick/", views.tick, name="day-tick"),
    path("crew/day-worker.js", views.worker, name="day-worker"),
]
