from django.apps import AppConfig


class ApiConfig(AppConfig):
    name = "farmbuild.api"
    verbose_name = "Other programs"

    def ready(self) -> None:
        from farmbuild.api import receivers  # noqa: F401
        from farmbuild.api.examined import examine_programs
        from farmbuild.api.models import Webhook
        from farmbuild.api.tasks import wake_all
        from farmbuild.common.background import taken_up_by
        from farmbuild.common.doctor.signals import examining

        taken_up_by(Webhook, "farmbuild.api.tasks.work_on_webhook", ahead=wake_all)
        examining.connect(examine_programs)
