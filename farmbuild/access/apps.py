from django.apps import AppConfig


class AccessConfig(AppConfig):
    name = "farmbuild.access"

    def ready(self) -> None:
        from farmbuild.access import receivers  # noqa: F401
