from django.apps import AppConfig


class StockConfig(AppConfig):
    name = "farmbuild.stock"

    def ready(self) -> None:
        from farmbuild.common.background import taken_up_by
        from farmbuild.orgs.signals import asking_what_is_priced, asking_who_has, currency_changed
        from farmbuild.sites.signals import archiving, need_date_changed
        from farmbuild.stock.models import ImportDraft
        from farmbuild.stock.receivers import drop_drafts, tell_what_is_priced, tell_who_has
        from farmbuild.stock.reserving import receivers

        taken_up_by(ImportDraft, "farmbuild.stock.tasks.work_on_import")
        asking_what_is_priced.connect(tell_what_is_priced)
        asking_who_has.connect(tell_who_has)
        currency_changed.connect(drop_drafts)
        need_date_changed.connect(receivers.move_need_dates)
        archiving.connect(receivers.refuse_while_reserved)
