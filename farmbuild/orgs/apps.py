from django.apps import AppConfig


class OrgsConfig(AppConfig):
    name = "farmbuild.orgs"
