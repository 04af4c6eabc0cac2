"""Addresses of what a phone keeps."""

from django.urls import path

from farmbuild.crew.offline import views

urlpatterns = [
    path("crew/kept/", views.kept, name="kept"),
    # Phones ask at this address whether the script has changed.
    path("crew/day-worker.js", views.worker, name="day-worker"),
]
