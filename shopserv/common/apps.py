from django.apps import AppConfig
from django.core.checks import Tags, register
from django.db.models.signals import post_migrate, pre_migrate

from shopserv.common.checks import engine_keeps_what_it_was_given


class CommonConfig(AppConfig):
    name = "shopserv.common"
    label = "common"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Guard the frozen tables again after each migrate; ask the engine before a start."""
        from shopserv.common import frozen  # slow import: asks for models, which are there only now

        pre_migrate.connect(frozen.before_migrate, dispatch_uid="frozen")
        post_migrate.connect(frozen.after_migrate, dispatch_uid="frozen")
        register(engine_keeps_what_it_was_given, Tags.database)
