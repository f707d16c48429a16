"""A sensor in the workshop that sends its readings by itself."""

from django.db import models

from finishing.air.models.weather import SENSOR
from finishing.workshops.models.addresses import SecretAddress


class Sensor(SecretAddress):
    """Where one sensor sends its readings; they are kept with its name as their source."""

    name = models.CharField(max_length=60, help_text="As you call it: hygrometer by the door.")
    place = models.ForeignKey("finishing.Place", on_delete=models.PROTECT, related_name="sensors")
    heard_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["closed", "name"]

    def __str__(self) -> str:
        return self.name

    @property
    def source(self) -> str:
        return f"{SENSOR}{self.name}"
