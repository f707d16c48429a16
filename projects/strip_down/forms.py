"""A part that comes off, a fault to be put right, a part that goes back, a size of a casting: what is asked of each."""

import uuid
from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from finishing.site.calendar import CLOCKS_DIFFER
from finishing.site.fields import QuantityField
from finishing.workshops.forms.base import QuestionForm, WorkshopForm
from finishing.workshops.forms.fields import MomentField, NumberField, PriceField
from finishing.workshops.models import Place
from projects.record.models import CastingSize, Fixing, Operation, Piece, Removal, Step
from projects.strip_down.actions import ChosenRepair
from projects.work.forms.log import PhotosField, PhotosInput, quantity_box

BAG = range(1, 5)  # kinds of fixings that a bag has boxes for
OLDEST = timedelta(days=31)  # that an entry may have waited in a device
FOUND = ("tag", "came_off", "condition", "cracks", "missing")  # of a removal, as its boxes are called
NO_REPAIR = ("", "none")


def _minutes(label: str) -> Any:
    column = Operation._meta.get_field("setup_minutes")
    assert isinstance(column, QuantityField)
    return column.formfield(required=False, label=label, initial=None, help_text="")


def _money(label: str) -> PriceField:
    return PriceField(label=label, required=False, min_value=0, max_digits=12, decimal_places=2)


class OnMachineChoice(forms.ModelChoiceField):
    def label_from_instance(self, obj: Piece) -> str:
        return f"{obj.part}, {obj.mark}"


class TakeOffForm(QuestionForm):
    """One part off: a photo is enough, the rest is proposed or may be added."""

    quiet = ("part", "name", "tag", "came_off", "photos")
    key = forms.UUIDField(widget=forms.HiddenInput)
    photos = PhotosField(
        required=False,
        label="Photo",
        widget=PhotosInput(attrs={"accept": "image/*", "capture": "environment", "multiple": True}),
    )
    piece = OnMachineChoice(Piece.objects.none(), required=False, label="Which part", empty_label="not listed: name it")
    name = forms.CharField(
        required=False,
        max_length=100,
        label="Or its name",
        help_text="What nobody has listed yet becomes a part here.",
        widget=forms.TextInput(attrs={"list": "parts-of-the-design", "autocomplete": "off"}),
    )
    tag = forms.CharField(
        required=False,
        max_length=40,
        label="Tag number",
        help_text="Empty: the next free one.",
        widget=forms.TextInput(attrs={"inputmode": "numeric", "data-counts": ""}),
    )
    came_off = forms.CharField(required=False, max_length=200, label="Where it came off")
    condition = forms.ChoiceField(choices=[("", "not said"), *Removal.Condition.choices], required=False, label="Found")
    cracks = forms.CharField(required=False, max_length=200, label="Cracks, and where")
    missing = forms.CharField(required=False, max_length=200, label="Missing")
    repair = forms.ChoiceField(choices=[NO_REPAIR, *Step.Repair.choices], required=False, label="Repair")
    repair_minutes = _minutes("It may take, own hands")
    repair_money = _money("And cost, for what comes from others")
    note = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 2}))
    minutes = quantity_box("minutes", "Time to get it off")
    happened_at = MomentField(
        required=False,
        label="When",
        help_text="Empty: now.",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )

    def __init__(
        self,
        *args: Any,
        on: QuerySet[Piece],
        tags: Iterable[str],
        next_tag: str,
        now: datetime,
        old: Removal | None = None,
        **kwargs: Any,
    ) -> None:
        first = {"key": uuid.uuid4(), "tag": next_tag} | _as_typed(old) | kwargs.pop("initial", {})
        super().__init__(*args, initial=first, **kwargs)
        self.tags, self.next_tag, self.now = set(tags), next_tag, now
        self.offer_rows("piece", on)
        self.names_only = not on.exists()
        if self.names_only:
            self.fields["name"].label = "Its name"
        for number in BAG:
            self.fields[f"count_{number}"] = forms.IntegerField(
                label="How many", required=False, min_value=1, max_value=999
            )
            self.fields[f"what_{number}"] = forms.CharField(
                label="What", required=False, max_length=60, widget=forms.TextInput(attrs={"list": "usual-fixings"})
            )
            self.fields[f"size_{number}"] = forms.CharField(label="Size", required=False, max_length=40)
            self.fields[f"torque_{number}"] = NumberField(label="Tighten to", required=False, min_value=0)
            self.print_beside(f"torque_{number}", "N·m")
        self.print_beside("repair_money", self.workshop.currency)
        self.settle(self.workshop)

    @property
    def bag_boxes(self) -> list[list[forms.BoundField]]:
        names = ("count", "what", "size", "torque")
        return [[self[f"{name}_{number}"] for name in names] for number in BAG]

    @property
    def found_boxes(self) -> list[forms.BoundField]:
        return [self[name] for name in ("condition", "cracks", "missing", "repair", "repair_minutes", "repair_money")]

    @property
    def more_boxes(self) -> list[forms.BoundField]:
        return [self[name] for name in ("note", "minutes", "happened_at")]

    @property
    def found_open(self) -> bool:
        return any(box.errors or box.value() for box in self.found_boxes)

    @property
    def bag_open(self) -> bool:
        return any(box.errors or box.value() for row in self.bag_boxes for box in row)

    def clean_happened_at(self) -> datetime:
        """What waited in a device says when it was tapped."""
        tapped = parse_datetime(self.data.get("tapped_at", "")) if "tapped_at" in self.data else None
        when = self.cleaned_data["happened_at"] or (tapped if tapped and timezone.is_aware(tapped) else self.now)
        if when > self.now + CLOCKS_DIFFER:
            raise forms.ValidationError("That lies ahead. Check date and clock.")
        return min(when, self.now) if when > self.now - OLDEST else when

    def clean_tag(self) -> str:
        """Two tags of one number, sent from a device that did not know of the other: the later one is told apart."""
        tag = self.cleaned_data["tag"].strip() or self.next_tag
        if tag not in self.tags:
            return tag
        if "late" in self.data:
            return f"{tag}, again"[:40]
        raise forms.ValidationError(f"Tag {tag} hangs on another part. The next free one is {self.next_tag}.")

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        given["name"] = " ".join((given.get("name") or "").split())
        if not given.get("piece") and not given["name"] and "piece" not in self.errors:
            self.add_error("name", "Choose the part, or say what it is called.")
        elif not given.get("piece") and not Place.objects.of(self.workshop).exists():
            self.add_error("name", "There is no place yet where it could stand: enter one in the settings.")
        for number in BAG:
            said = {name: given.get(f"{name}_{number}") for name in ("count", "what", "size", "torque")}
            if any(value not in (None, "") for value in said.values()) and not said["what"]:
                self.add_error(f"what_{number}", "Say what they are: bolts, pins, keys.")
        if (given.get("repair_minutes") or given.get("repair_money")) and not given.get("repair"):
            self.add_error("repair", "Say which repair takes that.")
        return given

    @property
    def fixings(self) -> list[Fixing]:
        given = self.cleaned_data
        rows = ({name: given[f"{name}_{number}"] for name in ("count", "what", "size", "torque")} for number in BAG)
        return [
            Fixing(row["count"] or 1, row["what"], row["size"], None if row["torque"] is None else float(row["torque"]))
            for row in rows
            if row["what"]
        ]

    @property
    def removal(self) -> Removal:
        return Removal(**{name: self.cleaned_data[name] for name in FOUND})

    @property
    def chosen_repair(self) -> ChosenRepair | None:
        return chosen_repair(self.cleaned_data, self.cleaned_data["cracks"])


def _as_typed(old: Removal | None) -> dict[str, Any]:
    """What stands in an entry that is to be corrected."""
    if old is None:
        return {}
    typed: dict[str, Any] = {name: getattr(old, name) for name in FOUND}
    for number, fixing in zip(BAG, old.bag, strict=False):
        typed |= {f"{name}_{number}": value for name, value in vars(fixing).items()}
    step = old.step
    when = timezone.localtime(step.happened_at).replace(tzinfo=None)
    return typed | {
        "piece": step.piece,
        "repair": step.repair,
        "note": step.note,
        "minutes": step.minutes,
        "happened_at": when,
    }


def chosen_repair(given: dict[str, Any], what: str) -> ChosenRepair | None:
    if not given.get("repair"):
        return None
    way = Step.Repair(given["repair"])
    return ChosenRepair(way, what, given.get("repair_minutes"), given.get("repair_money"))


class ChooseRepairForm(QuestionForm):
    """A fault that showed after the part came off, and how it is put right."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    repair = forms.ChoiceField(choices=Step.Repair.choices, label="Repair", widget=forms.RadioSelect)
    what = forms.CharField(max_length=200, label="What is wrong, and where")
    repair_minutes = _minutes("It may take, own hands")
    repair_money = _money("And cost, for what comes from others")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, initial={"key": uuid.uuid4()}, **kwargs)
        self.print_beside("repair_money", self.workshop.currency)


class RefitForm(QuestionForm):
    """A part back in its place: what was done there, if anything is worth keeping."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    shims = forms.CharField(max_length=200, required=False, label="Fits, shims, torque as tightened")
    note = forms.CharField(max_length=300, required=False, widget=forms.HiddenInput)


class CastingSizeForm(WorkshopForm):
    class Meta:
        model = CastingSize
        fields = ["what", "size", "machined_faces"]
        help_texts = {"size": "Of the finished part, as it was when new."}
