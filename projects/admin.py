"""The back room of the work. The log is read here like everywhere, and written nowhere but in its own form."""

from django.apps import apps
from django.contrib import admin

from finishing.admin import ReadOnlyAdmin, register_the_others
from projects.record import models


@admin.register(models.Step)
class StepAdmin(ReadOnlyAdmin):
    list_display = ["piece", "kind", "happened_at", "by", "verdict"]
    list_filter = ["workshop", "kind", "verdict"]
    date_hierarchy = "happened_at"


@admin.register(models.Photo)
class PhotoAdmin(ReadOnlyAdmin):
    list_display = ["step", "added_at"]


logs = [model for model in apps.get_models() if getattr(model, "append_only", False)]
admin.site.register([model for model in logs if not admin.site.is_registered(model)], ReadOnlyAdmin)
register_the_others("projects")
admin.site.unregister(models.MailServer)  # a secret
