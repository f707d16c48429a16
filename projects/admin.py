"""The back room of the work. The log is read here like everywhere, and written nowhere but in its own form."""

from typing import Any

from django.apps import apps
from django.contrib import admin

from finishing.admin import OfWorkshopAdmin, register_the_others
from projects.record import models


class ReadOnlyAdmin(OfWorkshopAdmin):
    def has_add_permission(self, request: Any) -> bool:
        return False

    def has_change_permission(self, request: Any, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: Any, obj: Any = None) -> bool:
        return False


@admin.register(models.Step)
class StepAdmin(ReadOnlyAdmin):
    list_display = ["piece", "kind", "happened_at", "by", "verdict"]
    list_filter = ["workshop", "kind", "verdict"]
    date_hierarchy = "happened_at"


@admin.register(models.Photo)
class PhotoAdmin(ReadOnlyAdmin):
    list_display = ["step", "added_at"]


logs = [model for model in apps.get_models() if getattr(model, "append_only", False) and model is not models.Step]
admin.site.register(logs, ReadOnlyAdmin)
register_the_others("projects")
admin.site.unregister(models.MailServer)  # a secret
