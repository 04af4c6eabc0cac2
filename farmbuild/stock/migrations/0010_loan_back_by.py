from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("stock", "0009_words_of_counts_and_loans"),
    ]

    operations = [
        migrations.AddField(
            model_name="movement",
            name="back_on",
            field=models.DateField(blank=True, null=True, verbose_name="back by"),
        ),
        migrations.AddConstraint(
            model_name="movement",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("back_on__isnull", True), models.Q(("kind", "lend"), ("reverses__isnull", True)), _connector="OR"
                ),
                name="movement_back_by_is_of_a_loan",
            ),
        ),
    ]
