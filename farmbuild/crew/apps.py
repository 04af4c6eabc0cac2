from django.apps import AppConfig


class CrewConfig(AppConfig):
    name = "farmbuild.crew"

    def ready(self) -> None:
        from farmbuild.access.signals import joined, taken_out
        from farmbuild.common.background import taken_up_by
        from farmbuild.crew.actuals import receivers
        from farmbuild.crew.bookings.pulls import tell_made_pulls
        from farmbuild.crew.models import Schedule
        from farmbuild.crew.people.signins import tie_person, untie_person
        from farmbuild.crew.schedule.builders import tell_builders
        from farmbuild.crew.standing.receivers import tell_next_steps, tell_standings
        from farmbuild.crew.steps.receivers import convert_rates, tell_what_is_outdated
        from farmbuild.hoops.batches.measured.signals import asking_made_pulls
        from farmbuild.hoops.batches.signals import batch_changed, trial_accepted
        from farmbuild.orgs.signals import units_changed
        from farmbuild.plans.signals import asking_builders
        from farmbuild.sites.signals import asking_next_steps, asking_standings, asking_what_is_outdated

        taken_up_by(Schedule, "farmbuild.crew.schedule.tasks.work_out_schedule")
        asking_builders.connect(tell_builders)
        joined.connect(tie_person)
        taken_out.connect(untie_person)
        units_changed.connect(convert_rates)
        trial_accepted.connect(receivers.finish_trial_tasks)
        batch_changed.connect(receivers.carry_bend_tasks)
        asking_what_is_outdated.connect(tell_what_is_outdated)
        asking_standings.connect(tell_standings)
        asking_made_pulls.connect(tell_made_pulls)
        asking_next_steps.connect(tell_next_steps)
