from django.apps import AppConfig


class CrewConfig(AppConfig):
    name = "farmbuild.crew"

    def ready(self) -> None:
        from farmbuild.crew.actuals import receivers
        from farmbuild.hoops.batches.signals import trial_accepted

        trial_accepted.connect(receivers.finish_trial_tasks)
