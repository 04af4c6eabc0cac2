from django.apps import AppConfig


class PlansConfig(AppConfig):
    name = "farmbuild.plans"

    def ready(self) -> None:
        import farmbuild.plans.reserving.receivers  # noqa: F401
