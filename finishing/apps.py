from django.apps import AppConfig
from django.db.backends.signals import connection_created


class FinishingConfig(AppConfig):
    name = "finishing"
    verbose_name = "Finishing"

    def ready(self) -> None:
        from finishing.site.editions import watch

        connection_created.connect(watch)
