from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "shopserv.jobs"
    label = "jobs"
    default_auto_field = "django.db.models.BigAutoField"
