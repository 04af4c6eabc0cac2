from django.apps import AppConfig


class CrewConfig(AppConfig):
    name = "farmbuild.crew"
