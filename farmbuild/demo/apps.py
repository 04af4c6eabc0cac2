from django.apps import AppConfig


class DemoConfig(AppConfig):
    name = "farmbuild.demo"
