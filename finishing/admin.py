"""The back room: every row as it stands, for whoever keeps the installation."""

from typing import Any

from django.apps import apps
from django.contrib import admin
from django.contrib.auth.admin import UserAdmin

from finishing.site.models import WorkshopRow
from finishing.workshops import models
from finishing.workshops.forms.accounts import StaffSignInForm

admin.site.login_form = StaffSignInForm
admin.site.site_header = admin.site.site_title = "Fettlebook, back room"
admin.site.register(models.User, UserAdmin)
admin.site.register(models.SignIn)
admin.site.register(models.FailedSignIn)  # taking them out ends somebody's wait


@admin.register(models.Workshop)
class WorkshopAdmin(admin.ModelAdmin):
    list_display = ["name", "time_zone", "units", "weather_service"]


@admin.register(models.Membership)
class MembershipAdmin(admin.ModelAdmin):
    list_display = ["workshop", "user", "role"]
    list_filter = ["workshop", "role"]


@admin.register(models.Invitation)
class InvitationAdmin(admin.ModelAdmin):
    list_display = ["workshop", "role", "made_at", "used_at"]


class OfWorkshopAdmin(admin.ModelAdmin):
    list_display = ["__str__", "workshop"]
    list_filter = ["workshop"]


class ReadOnlyAdmin(OfWorkshopAdmin):
    def has_add_permission(self, request: Any) -> bool:
        return False

    def has_change_permission(self, request: Any, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: Any, obj: Any = None) -> bool:
        return False


@admin.register(models.AuditEntry)
class AuditEntryAdmin(ReadOnlyAdmin):
    list_display = ["at", "name", "what", "about", "workshop"]
    list_filter = ["workshop", "what"]


def register_the_others(package: str) -> None:
    """What needs no list of its own is shown by its name and its workshop."""
    rows = [model for model in apps.get_app_config(package).get_models() if issubclass(model, WorkshopRow)]
    admin.site.register([model for model in rows if not admin.site.is_registered(model)], OfWorkshopAdmin)


register_the_others("finishing")
