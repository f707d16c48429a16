from django.apps import AppConfig


class FinishingConfig(AppConfig):
    name = "finishing"
    verbose_name = "Finishing"
