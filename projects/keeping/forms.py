"""A backup or a workshop brought from elsewhere; the name typed before a workshop is deleted."""

import zipfile
from typing import Any

from django import forms
from django.utils import timezone

from finishing.workshops.models import User, Workshop
from projects.keeping.actions.backup_in import NotABackup
from projects.keeping.actions.backups import bring_backup
from projects.keeping.actions.workshop_in import NotAWorkshop, read_workshop


class BringForm(forms.Form):
    file = forms.FileField(label="A backup file", help_text="A zip that this program made; it is read first.")

    def clean(self) -> dict[str, Any]:
        """Kept here, so that what is wrong with the file is told at its box."""
        cleaned = super().clean() or {}
        if sent := cleaned.get("file"):
            try:
                cleaned["backup"] = bring_backup(sent, timezone.now())
            except NotABackup as error:
                self.add_error("file", f"This is no backup that can be put back. {error}")
            except (OSError, zipfile.LargeZipFile) as error:
                self.add_error("file", f"It could not be kept here: {error}")
        return cleaned


class BringWorkshopForm(forms.Form):
    file = forms.FileField(label="The file of a workshop", help_text="It is looked at whole before anything is kept.")

    def __init__(self, *args: Any, keeper: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.keeper = keeper

    def clean(self) -> dict[str, Any]:
        """Read in here, so that what is wrong with the file is told at its box."""
        cleaned = super().clean() or {}
        if sent := cleaned.get("file"):
            try:
                cleaned["workshop"] = read_workshop(sent, keeper=self.keeper)
            except NotAWorkshop as error:
                self.add_error("file", f"Nothing was read in. {error}")
        return cleaned


class DeleteWorkshopForm(forms.Form):
    name = forms.CharField(label="The workshop's name, typed out")

    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.workshop = workshop
        self.fields["name"].help_text = f"As it stands in the settings: {workshop}"

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if name.strip() != self.workshop.name.strip():
            raise forms.ValidationError("This is not its name: nothing was deleted.")
        return name
