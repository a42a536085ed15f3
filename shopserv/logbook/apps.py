from django.apps import AppConfig


class LogbookConfig(AppConfig):
    name = "shopserv.logbook"
    label = "logbook"
    default_auto_field = "django.db.models.BigAutoField"
