from django.apps import AppConfig


class ShopConfig(AppConfig):
    name = "shopserv.shop"
    label = "shop"
    default_auto_field = "django.db.models.BigAutoField"
