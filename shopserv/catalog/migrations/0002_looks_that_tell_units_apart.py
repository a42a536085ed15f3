"""Looks and what they show on a unit, what was seen on a vehicle, the rule by which a unit counts as decided."""

import django.db.models.deletion
from django.db import migrations, models

import shopserv.common.fields


class Migration(migrations.Migration):
    dependencies = [
        ("catalog", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="IdentifyRule",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("confidence_ppm", models.PositiveIntegerField(default=900000)),
                (
                    "file_error_ppm",
                    models.PositiveIntegerField(help_text="how often what is on file of a vehicle is wrong"),
                ),
                (
                    "wrong_cents",
                    shopserv.common.fields.CentsField(
                        help_text="of taking one unit for another, where no pair says otherwise"
                    ),
                ),
                (
                    "pairs",
                    models.JSONField(
                        blank=True, default=list, help_text="[{true, taken, cents}]: the directions may differ"
                    ),
                ),
                ("from_on", models.DateField(unique=True)),
                ("source", models.CharField(blank=True, help_text="empty: look up before use", max_length=200)),
            ],
        ),
        migrations.CreateModel(
            name="Look",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("code", models.CharField(max_length=20, unique=True)),
                ("words", models.CharField(help_text="the question: Which wheels are driven?", max_length=120)),
                (
                    "how",
                    models.CharField(help_text="where to look, with the caution that belongs there", max_length=300),
                ),
                (
                    "reads",
                    models.CharField(
                        choices=[
                            ("feature", "feature"),
                            ("sheet", "sheet"),
                            ("wheels", "wheels"),
                            ("engine", "engine"),
                            ("market", "market"),
                            ("build month", "build month"),
                            ("tag", "tag"),
                        ],
                        max_length=12,
                    ),
                ),
                ("of", models.CharField(blank=True, help_text="what of the sheet: torque_drain_mnm", max_length=40)),
                ("answers", models.JSONField(blank=True, default=list)),
                (
                    "minutes",
                    models.PositiveIntegerField(help_text="what it takes; of equal questions the quicker is asked"),
                ),
                ("error_ppm", models.PositiveIntegerField(help_text="how often such a look is read wrong")),
                (
                    "unseen_ppm",
                    models.PositiveIntegerField(default=0, help_text="how often nothing can be seen: a tag gone blank"),
                ),
                ("source", models.CharField(max_length=200)),
                ("is_current", models.BooleanField(default=True)),
            ],
        ),
        migrations.CreateModel(
            name="Sighting",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("vehicle", models.CharField(max_length=20)),
                ("visit", models.CharField(blank=True, max_length=20)),
                ("question", models.CharField(max_length=40)),
                ("words", models.CharField(help_text="the question as it was asked", max_length=160)),
                ("answer", models.CharField(blank=True, max_length=60)),
                ("answer_words", models.CharField(max_length=120)),
                ("by", models.CharField(max_length=120)),
                ("at", models.DateTimeField()),
                ("taken_back_by", models.CharField(blank=True, max_length=120)),
                ("taken_back_at", models.DateTimeField(blank=True, null=True)),
            ],
        ),
        migrations.CreateModel(
            name="UnitFeature",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("answer", models.CharField(max_length=60)),
                ("source", models.CharField(max_length=200)),
            ],
        ),
        migrations.RemoveConstraint(
            model_name="fitment",
            name="fitment_once",
        ),
        migrations.AddField(
            model_name="fitment",
            name="descriptor",
            field=models.CharField(blank=True, help_text="VIN places 4 to 8; ? stands for any sign", max_length=5),
        ),
        migrations.AddField(
            model_name="fitment",
            name="market",
            field=models.CharField(blank=True, help_text="where it was sold first; empty: anywhere", max_length=20),
        ),
        migrations.AddConstraint(
            model_name="fitment",
            constraint=models.UniqueConstraint(
                fields=(
                    "make",
                    "model",
                    "year_from",
                    "year_to",
                    "engine",
                    "wheels_driven",
                    "build_from",
                    "descriptor",
                    "market",
                    "unit",
                ),
                name="fitment_once",
            ),
        ),
        migrations.AddConstraint(
            model_name="identifyrule",
            constraint=models.CheckConstraint(
                condition=models.Q(("confidence_ppm__gt", 500000), ("confidence_ppm__lte", 1000000)),
                name="identify_rule_confidence_above_a_guess",
            ),
        ),
        migrations.AddConstraint(
            model_name="identifyrule",
            constraint=models.CheckConstraint(
                condition=models.Q(("file_error_ppm__lte", 500000)), name="identify_rule_file_no_worse_than_guessing"
            ),
        ),
        migrations.AddConstraint(
            model_name="look",
            constraint=models.CheckConstraint(
                condition=models.Q(("error_ppm__lte", 500000)), name="look_no_worse_than_guessing"
            ),
        ),
        migrations.AddConstraint(
            model_name="look",
            constraint=models.CheckConstraint(
                condition=models.Q(("unseen_ppm__lte", 1000000)), name="look_unseen_at_most_always"
            ),
        ),
        migrations.AddField(
            model_name="sighting",
            name="look",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="sightings", to="catalog.look"
            ),
        ),
        migrations.AddField(
            model_name="unitfeature",
            name="look",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="features", to="catalog.look"
            ),
        ),
        migrations.AddField(
            model_name="unitfeature",
            name="unit",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="features", to="catalog.unit"
            ),
        ),
        migrations.AddIndex(
            model_name="sighting",
            index=models.Index(fields=["vehicle", "taken_back_at"], name="catalog_sig_vehicle_f0986d_idx"),
        ),
        migrations.AddConstraint(
            model_name="sighting",
            constraint=models.UniqueConstraint(
                condition=models.Q(("taken_back_at__isnull", True)),
                fields=("vehicle", "question"),
                name="sighting_one_answer_that_counts",
            ),
        ),
        migrations.AddConstraint(
            model_name="unitfeature",
            constraint=models.UniqueConstraint(fields=("unit", "look"), name="unit_feature_once"),
        ),
    ]
