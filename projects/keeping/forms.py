"""A backup brought from elsewhere."""

import zipfile
from typing import Any

from django import forms
from django.utils import timezone

from projects.keeping.actions.backup_in import NotABackup
from projects.keeping.actions.backups import bring_backup


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
