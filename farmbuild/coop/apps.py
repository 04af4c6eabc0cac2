from django.apps import AppConfig


class CoopConfig(AppConfig):
    name = "farmbuild.coop"

    def ready(self) -> None:
        from farmbuild.coop import receivers
        from farmbuild.coop.common import leaving, plans
        from farmbuild.coop.common.panel import common_panel
        from farmbuild.coop.joint.presenters.panel import joint_panel
        from farmbuild.coop.joint.receivers import refuse_while_it_takes_part
        from farmbuild.coop.members import receivers as members
        from farmbuild.coop.members.panels import PANELS, Panel
        from farmbuild.coop.members.signals import asking_what_ends, farm_ended
        from farmbuild.coop.pipe.panel import PANEL as PIPE
        from farmbuild.coop.statement.panel import PANEL as ACCOUNT
        from farmbuild.crew.signals import archiving_member, asking_farms_of_member, asking_members_of_farm
        from farmbuild.orgs.signals import asking_neighbours, asking_what_is_priced
        from farmbuild.plans.signals import (
            asking_common_stock,
            asking_cooperatives,
            asking_fetched_lots,
            asking_what_became,
            asking_what_is_kept,
            asking_what_waits,
            houses_let_go,
            locking_common_stock,
            taking_common_stock,
        )
        from farmbuild.sites.signals import asking_next_steps

        asking_cooperatives.connect(plans.tell_cooperatives)
        asking_common_stock.connect(plans.tell_common_stock)
        locking_common_stock.connect(plans.lock_common_stock)
        asking_what_became.connect(plans.tell_what_became)
        taking_common_stock.connect(plans.ask_for_what_a_plan_takes)
        houses_let_go.connect(plans.take_back_what_was_asked)
        asking_what_is_kept.connect(plans.tell_what_is_kept)
        asking_what_waits.connect(plans.tell_what_waits)
        asking_fetched_lots.connect(plans.tell_fetched_lots)
        asking_what_ends.connect(leaving.tell_what_ends)
        farm_ended.connect(leaving.withdraw_what_plans_asked)
        asking_what_is_priced.connect(receivers.tell_what_is_priced)
        asking_neighbours.connect(members.tell_neighbours)
        asking_next_steps.connect(receivers.tell_next_steps)
        archiving_member.connect(refuse_while_it_takes_part)
        archiving_member.connect(leaving.refuse_while_pieces_wait)
        asking_members_of_farm.connect(members.tell_members)
        asking_farms_of_member.connect(members.tell_farm)
        PANELS.append(ACCOUNT)
        PANELS.append(PIPE)
        PANELS.append(Panel(order=20, template="coop/joint/panel.html", facts=joint_panel))
        PANELS.append(Panel(order=30, template="coop/common/panel.html", facts=common_panel))
