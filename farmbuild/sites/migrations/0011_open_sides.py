"""Houses whose film ends above the ground were let be so far: their sides are open."""

from django.db import migrations


def name_open_sides(apps, schema_editor):
    House = apps.get_model("sites", "House")
    houses = House.objects.using(schema_editor.connection.alias).filter(film_layers__gt=0)
    found = [
        house.pk
        for house in houses.exclude(post_material=None)
        .only("post_length", "post_depth", "post_socket_depth", "film_side_allowance")
        .iterator()
        if house.film_side_allowance < house.post_length - house.post_depth - house.post_socket_depth
    ]
    for start in range(0, len(found), 500):
        houses.filter(pk__in=found[start : start + 500]).update(side_closing="open")


class Migration(migrations.Migration):
    dependencies = [
        ("sites", "0010_sides"),
    ]

    operations = [migrations.RunPython(name_open_sides, migrations.RunPython.noop, elidable=False)]
