from django.apps import AppConfig


class BuyingConfig(AppConfig):
    name = "farmbuild.buying"
