from django.apps import AppConfig


class PlansConfig(AppConfig):
    name = "farmbuild.plans"

    def ready(self) -> None:
        from farmbuild.buying.signals import asking_changed_houses, asking_phases_of_plans
        from farmbuild.common.background import taken_up_by
        from farmbuild.common.doctor.signals import examining
        from farmbuild.orgs.signals import asking_what_is_priced
        from farmbuild.plans import examined, receivers
        from farmbuild.plans.models import Plan, PlanFromYard, PlanSavings
        from farmbuild.plans.reserving.receivers import reserve_what_came_back
        from farmbuild.sites.signals import asking_materials_balance, asking_phases, asking_what_is_outdated
        from farmbuild.stock.signals import pieces_back

        taken_up_by(Plan, "farmbuild.plans.tasks.work_out_plan")
        taken_up_by(PlanSavings, "farmbuild.plans.tasks.look_for_savings")
        taken_up_by(PlanFromYard, "farmbuild.plans.tasks.look_in_yard")
        examining.connect(examined.examine_plans)
        asking_what_is_priced.connect(receivers.tell_what_is_priced)
        pieces_back.connect(reserve_what_came_back)
        asking_what_is_outdated.connect(receivers.tell_what_is_outdated)
        asking_changed_houses.connect(receivers.tell_changed_houses)
        asking_materials_balance.connect(receivers.tell_materials_balance)
        asking_phases.connect(receivers.tell_phases_of_houses)
        asking_phases_of_plans.connect(receivers.tell_phases)
