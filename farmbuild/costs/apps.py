from django.apps import AppConfig


class CostsConfig(AppConfig):
    name = "farmbuild.costs"

    def ready(self) -> None:
        from farmbuild.costs import receivers
        from farmbuild.crew.signals import approval_over, hours_approved
        from farmbuild.orgs.signals import asking_what_is_priced

        asking_what_is_priced.connect(receivers.tell_what_is_priced)
        hours_approved.connect(receivers.pay_for_hours)
        approval_over.connect(receivers.take_hours_back)
