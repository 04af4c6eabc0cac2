from django.apps import AppConfig


class MovingConfig(AppConfig):
    name = "farmbuild.moving"

    def ready(self) -> None:
        from farmbuild.common.background import taken_up_by
        from farmbuild.moving.models import Export

        taken_up_by(Export, "farmbuild.moving.tasks.work_on_export")
