from django.apps import AppConfig


class ApiConfig(AppConfig):
    name = "farmbuild.api"
    verbose_name = "Other programs"

    def ready(self) -> None:
        from farmbuild.api import receivers  # noqa: F401
