from django.apps import AppConfig


class StockConfig(AppConfig):
    name = "farmbuild.stock"

    def ready(self) -> None:
        from farmbuild.sites.signals import archiving, need_date_changed
        from farmbuild.stock.reserving import receivers

        need_date_changed.connect(receivers.move_need_dates)
        archiving.connect(receivers.refuse_while_reserved)
