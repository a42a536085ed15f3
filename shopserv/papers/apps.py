from django.apps import AppConfig


class PapersConfig(AppConfig):
    name = "shopserv.papers"
    label = "papers"
    default_auto_field = "django.db.models.BigAutoField"
