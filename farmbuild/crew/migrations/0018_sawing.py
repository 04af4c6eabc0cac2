"""Sawing becomes a step of its own. Steps that are still those that were shipped get it; others are left as they are,
and their pages say that it is missing.
"""

from django.db import migrations, models
from django.db.models import F

KINDS = [
    ("survey", "Survey and mark out"),
    ("saw", "Saw pieces"),
    ("posts", "Ground posts"),
    ("mark", "Mark sticks"),
    ("trial", "Trial hoop"),
    ("bend", "Bend the batch"),
    ("join", "Join and screw"),
    ("set", "Set and spring in"),
    ("sight", "Sight and adjust"),
    ("ridge", "Ridge and purlins"),
    ("hip", "Hip boards"),
    ("base", "Base boards"),
    ("ends", "End walls"),
    ("film", "Film"),
    ("anchors", "Anchors"),
]
#: What each of the shipped steps waited for.
SHIPPED = {
    *(("posts", "survey"), ("trial", "mark"), ("bend", "trial"), ("join", "bend"), ("set", "posts"), ("set", "join")),
    *(("sight", "set"), ("ridge", "sight"), ("hip", "sight"), ("base", "sight"), ("ends", "ridge")),
    *(("anchors", "ridge"), ("film", "hip"), ("film", "base"), ("film", "ends"), ("film", "anchors")),
}


def add_sawing(apps, schema_editor) -> None:
    """Before the posts of steps with all that was shipped and the waits of then, whoever does them and with what lags."""
    Template, Step, After = (apps.get_model("crew", name) for name in ("WorkTemplate", "WorkStep", "StepAfter"))
    shipped = {kind for kind, _ in KINDS} - {"saw"}
    for template in Template.objects.order_by("pk"):
        steps = {step.kind: step for step in Step.objects.filter(template=template)}
        waits = After.objects.filter(step__template=template).values_list("step__kind", "after__kind")
        if set(steps) != shipped or set(waits) != SHIPPED:
            continue
        posts = steps["posts"]
        Step.objects.filter(template=template, position__gte=posts.position).update(position=F("position") + 1)
        saw = Step.objects.create(template=template, kind="saw", people=1, position=posts.position)
        After.objects.create(step=posts, after=saw)


class Migration(migrations.Migration):
    dependencies = [("crew", "0017_hours_stay")]

    operations = [
        *(
            migrations.AlterField(model, "kind", models.CharField(choices=KINDS, max_length=8))
            for model in ("rate", "task", "workstep")
        ),
        migrations.RunPython(add_sawing, migrations.RunPython.noop),
    ]
