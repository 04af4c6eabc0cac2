"""The address of hoops for a span; its two parts are nobody's recipe."""

from django.urls import path

from farmbuild.hoops.for_span import views

urlpatterns = [path("hoops/for/span/", views.show, name="recipe-for-span")]
