from django.apps import AppConfig


class StockConfig(AppConfig):
    name = "farmbuild.stock"

    def ready(self) -> None:
        from farmbuild.orgs.signals import asking_what_is_priced, asking_who_has, currency_changed
        from farmbuild.sites.signals import archiving, need_date_changed
        from farmbuild.stock.receivers import drop_drafts, tell_what_is_priced, tell_who_has
        from farmbuild.stock.reserving import receivers

        asking_what_is_priced.connect(tell_what_is_priced)
        asking_who_has.connect(tell_who_has)
        currency_changed.connect(drop_drafts)
        need_date_changed.connect(receivers.move_need_dates)
        archiving.connect(receivers.refuse_while_reserved)
