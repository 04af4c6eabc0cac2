"""Moves of bookings, sign-ins of members, who asked, and the calendar of a member."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("crew", "0005_problem_photos"),
        ("hoops", "0003_guards"),
        ("orgs", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="BookingMove",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("from_first", models.DateField()),
                ("from_last", models.DateField()),
                ("to_first", models.DateField()),
                ("to_last", models.DateField()),
                ("moved_at", models.DateTimeField(auto_now_add=True)),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="MemberSignIn",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("made_at", models.DateTimeField(auto_now_add=True)),
                ("shut_at", models.DateTimeField(blank=True, editable=False, null=True)),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.RemoveConstraint(
            model_name="calendarfeed",
            name="feed_of_a_bender_or_a_person",
        ),
        migrations.AddField(
            model_name="benderrequest",
            name="asked_by",
            field=models.ForeignKey(
                editable=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="calendarfeed",
            name="member",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="feeds",
                to="crew.member",
            ),
        ),
        migrations.AddConstraint(
            model_name="calendarfeed",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("bender__isnull", False), ("member__isnull", True), ("person__isnull", True)),
                    models.Q(("bender__isnull", True), ("member__isnull", True), ("person__isnull", False)),
                    models.Q(("bender__isnull", True), ("member__isnull", False), ("person__isnull", True)),
                    _connector="OR",
                ),
                name="feed_of_one",
            ),
        ),
        migrations.AddConstraint(
            model_name="calendarfeed",
            constraint=models.UniqueConstraint(
                condition=models.Q(("revoked_at", None)), fields=("member",), name="feed_open_once_a_member"
            ),
        ),
        migrations.AddField(
            model_name="bookingmove",
            name="booking",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="moves", to="crew.benderbooking"
            ),
        ),
        migrations.AddField(
            model_name="bookingmove",
            name="from_bender",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="hoops.bender"),
        ),
        migrations.AddField(
            model_name="bookingmove",
            name="moved_by",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="bookingmove",
            name="organisation",
            field=models.ForeignKey(
                editable=False, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="orgs.organisation"
            ),
        ),
        migrations.AddField(
            model_name="bookingmove",
            name="to_bender",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="hoops.bender"),
        ),
        migrations.AddField(
            model_name="membersignin",
            name="made_by",
            field=models.ForeignKey(
                editable=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="membersignin",
            name="member",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="sign_ins", to="crew.member"
            ),
        ),
        migrations.AddField(
            model_name="membersignin",
            name="organisation",
            field=models.ForeignKey(
                editable=False, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="orgs.organisation"
            ),
        ),
        migrations.AddField(
            model_name="membersignin",
            name="user",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT, related_name="member_sign_in", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddConstraint(
            model_name="bookingmove",
            constraint=models.CheckConstraint(
                condition=models.Q(("from_first__lte", models.F("from_last")), ("to_first__lte", models.F("to_last"))),
                name="move_ends_after_it_starts",
            ),
        ),
        migrations.AddConstraint(
            model_name="bookingmove",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("from_bender", models.F("to_bender")),
                    ("from_first", models.F("to_first")),
                    ("from_last", models.F("to_last")),
                    _negated=True,
                ),
                name="move_changes_something",
            ),
        ),
    ]
