from django.apps import AppConfig


class CrewConfig(AppConfig):
    name = "farmbuild.crew"

    def ready(self) -> None:
        import farmbuild.crew.gate.receivers  # noqa: F401
