from django.apps import AppConfig


class HoopsConfig(AppConfig):
    name = "farmbuild.hoops"
