"""Addresses of problems and their photos."""

from django.urls import path

from farmbuild.crew.problems import views

urlpatterns = [
    path("crew/problems/", views.problems, name="problems"),
    path("crew/problems/<int:pk>/", views.problem, name="problem"),
    path("crew/photos/<int:pk>/", views.photo, name="photo"),
    path("crew/photos/<int:pk>/whole.jpg", views.picture, {"small": False}, name="photo-whole"),
    path("crew/photos/<int:pk>/small.jpg", views.picture, {"small": True}, name="photo-small"),
]
