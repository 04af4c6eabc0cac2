"""Addresses of problems and their photos."""

from django.urls import path

from farmbuild.crew.problems.views import problems

urlpatterns = [
    path("crew/problems/", problems.problems, name="problems"),
    path("crew/problems/<int:pk>/", problems.problem, name="problem"),
    path("crew/problems/<int:pk>/photos/", problems.add_photos, name="problem-photos"),
    path("crew/photos/<int:pk>/", problems.photo, name="photo"),
    path("crew/photos/<int:pk>/whole.jpg", problems.picture, {"small": False}, name="photo-whole"),
    path("crew/photos/<int:pk>/small.jpg", problems.picture, {"small": True}, name="photo-small"),
]
