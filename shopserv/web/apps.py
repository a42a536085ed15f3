from django.apps import AppConfig


class WebConfig(AppConfig):
    name = "shopserv.web"
    label = "web"
    default_auto_field = "django.db.models.BigAutoField"
