from django.apps import AppConfig


class RemindersConfig(AppConfig):
    name = "shopserv.reminders"
    label = "reminders"
    default_auto_field = "django.db.models.BigAutoField"
