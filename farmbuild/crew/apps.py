from django.apps import AppConfig


class CrewConfig(AppConfig):
    name = "farmbuild.crew"

    def ready(self) -> None:
        import farmbuild.crew.actuals.receivers  # noqa: F401
