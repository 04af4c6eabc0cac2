from django.apps import AppConfig


class GuideConfig(AppConfig):
    name = "farmbuild.guide"
