from django.apps import AppConfig


class PlansConfig(AppConfig):
    name = "farmbuild.plans"

    def ready(self) -> None:
        from farmbuild.plans.reserving import receivers
        from farmbuild.stock.signals import pieces_back

        pieces_back.connect(receivers.reserve_what_came_back)
