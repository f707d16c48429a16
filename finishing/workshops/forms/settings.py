"""A workshop's settings, its members, places and days off."""

from collections.abc import Mapping
from typing import Any

from django import forms

from finishing.site.fields import QuantityFormField
from finishing.workshops.models import DayOff, Membership, Place, Workshop

from .base import OfWorkshop, WorkshopForm
from .fields import NumberField, PriceField, WhereField
from .meanwhile import MeanwhileForm

Service = Workshop.WeatherService
DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


GROUPS: dict[str, tuple[str, ...]] = {
    "The workshop": ("name", "units", "currency", "site_address"),
    "Where it stands": ("where", "altitude", "time_zone"),
    "Its weather": ("weather_service", "weather_key", "weather_ensemble", "reading_age_minutes"),
    "When work is done": ("work_from", "work_until", "work_days"),
    "What it reckons with": ("wage", "brush_minutes", "salt", "rust_tightening"),
    "When a film is thick enough": ("film_floor", "film_thin_share"),
    "What plans reckon with": (
        "masking_minutes",
        "blasting_minutes",
        "settling_minutes",
        "mixing_minutes",
        "cleaning_minutes",
        "moving_minutes",
    ),
}


class WorkshopSettingsForm(OfWorkshop, MeanwhileForm):
    where = WhereField(required=False)
    work_days = forms.MultipleChoiceField(
        label="Days worked",
        choices=list(enumerate(DAYS)),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one day."},
    )

    class Meta:
        model = Workshop
        fields = tuple(name for group in GROUPS.values() for name in group if name != "where")
        labels = {"name": "Workshop's name"}
        help_texts = {"time_zone": "As Europe/London or America/New_York."}
        field_classes = {"wage": PriceField, "rust_tightening": NumberField}
        widgets = {"time_zone": forms.TextInput(attrs={"list": "time-zones"})}

    def __init__(self, data: Mapping[str, Any] | None, *, instance: Workshop):
        worked = [day for day, mark in enumerate(instance.work_days) if mark == "1"]
        where = f"{instance.latitude:g}, {instance.longitude:g}" if instance.placed else ""
        super().__init__(data, instance=instance, initial={"work_days": worked, "where": where})
        self.settle(instance)
        self.print_beside("wage", instance.currency)
        self.print_beside("reading_age_minutes", "min")
        self.fields["reading_age_minutes"].help_text = ""
        self.watch()

    @property
    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        return [(title, [self[name] for name in names]) for title, names in GROUPS.items()]

    def clean_currency(self) -> str:
        code = self.cleaned_data["currency"]
        if not (len(code) == 3 and code.isascii() and code.isalpha()):
            raise forms.ValidationError("Three letters, as EUR, GBP or USD.")
        return code.upper()

    def clean(self) -> dict[str, Any]:
        """A place that is said for the first time gets a forecast; without one there is nothing to ask a service."""
        cleaned, nowhere = super().clean(), not self.instance.placed
        self.tell_what_changed()
        somewhere = cleaned.get("where")
        if somewhere and "where" in self.changed_data:
            self.instance.latitude, self.instance.longitude = somewhere.latitude, somewhere.longitude
        if "where" not in self.errors:
            self.instance.placed = bool(somewhere)
        if somewhere and nowhere and "weather_service" not in self.changed_data:
            cleaned["weather_service"] = Service.MET_NORWAY
        elif not somewhere and "where" not in self.errors and cleaned.get("weather_service") != Service.NONE:
            self.add_error("where", "A weather service has to know where: give a town or coordinates.")
        return cleaned

    def clean_work_days(self) -> str:
        return "".join("1" if str(day) in self.cleaned_data["work_days"] else "0" for day in range(7))


class RoleForm(forms.ModelForm):
    class Meta:
        model = Membership
        fields = ("role",)


class InviteForm(forms.Form):
    role = forms.ChoiceField(
        choices=Membership.Role.choices, widget=forms.RadioSelect, initial=Membership.Role.HELPER, label="They come as"
    )


class HeldForm(forms.Form):
    """How an address asks a place to be held; what cannot be is passed over."""

    held_at = QuantityFormField(unit="°C", minimum=-10, maximum=40, required=False)
    humidity_ceiling = QuantityFormField(unit="%", minimum=20, maximum=95, required=False)

    @property
    def asked(self) -> dict[str, Any]:
        self.is_valid()
        return {name: value for name, value in self.cleaned_data.items() if value is not None}


class PlaceForm(WorkshopForm):
    class Meta:
        model = Place
        fields = (
            "name",
            "kind",
            "held_at",
            "humidity_ceiling",
            "sun_from",
            "sun_until",
            "air_of",
            "stirred",
            "painted_in",
            "blasted_in",
            "cabinet",
            "wet_room",
        )

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.offer_rows("air_of", Place.objects.of(self.workshop).exclude(pk=self.instance.pk), none="its own only")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("kind") != Place.Kind.SHOP:
            for name in ("held_at", "humidity_ceiling"):
                if cleaned.get(name) is not None:
                    self.add_error(name, "Only a shop is heated or dried; leave this empty.")
        begin, end, shared = (cleaned.get(name) for name in ("sun_from", "sun_until", "air_of"))
        if (begin or end) and cleaned.get("kind") != Place.Kind.YARD:
            self.add_error("sun_from" if begin else "sun_until", "The sun reaches only a yard; leave this empty.")
        elif (begin is None) != (end is None):
            self.add_error("sun_until" if end is None else "sun_from", "Give both ends of the sun's hours, or neither.")
        elif begin is not None and end is not None and end <= begin:
            self.add_error("sun_until", "The sun goes after it has come.")
        if shared is not None and shared.kind == Place.Kind.SHOP and cleaned.get("kind") != Place.Kind.SHOP:
            self.add_error("air_of", "A place in the open has not the air of a shop.")
        return cleaned


class DayOffForm(WorkshopForm):
    class Meta:
        model = DayOff
        fields = ("first", "last", "reason")
        labels = {"first": "From", "last": "Until"}
