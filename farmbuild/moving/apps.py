from django.apps import AppConfig


class MovingConfig(AppConfig):
    name = "farmbuild.moving"
