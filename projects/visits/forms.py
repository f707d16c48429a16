"""A contractor's visit as forms: the visit, its tasks, its pieces, the day, and its settlement."""

import uuid
from typing import Any

from django import forms
from django.db.models import Q
from django.http import QueryDict

from finishing.media.models import Medium
from finishing.media.words import refusal_words
from finishing.science import blasting
from finishing.science.units import Quantity
from finishing.site.fields import METRIC
from finishing.workshops.forms.base import QuestionForm, WorkshopForm, as_uuid
from finishing.workshops.forms.fields import PriceField
from finishing.workshops.forms.rows import ModelRow, Rows, rows_of
from projects.record.models import Piece, Visit, VisitPiece, VisitTask
from projects.visits.domain.settlement import Settlement, pots
from projects.work.domain.blast_advice import GRADE
from projects.work.forms.log import quantity_box

# a small rig, with half as much air again as its nozzle takes at 5 bar, 1.60 m³/min [NOZZLE-TABLE, common practice]
USUAL_RIG = {
    "nozzle_bore": Quantity(6, "mm"),
    "hose_bore": Quantity(25, "mm"),
    "most_pressure": Quantity(7, "bar"),
    "free_air": Quantity(2.6, "m**3/minute"),
}
AS_LAST_TIME = (
    "begins", "ends", "contractor", "call_out", "travel", "rate", "day_price", "least_charge", "free_until",
    "cancel_share", "nozzle_bore", "hose_bore", "most_pressure", "free_air", "wet", "gathered", "brings", "waste",
)  # fmt: skip
USUAL_REASONS = (
    "cold: metal within 3 °C of the dew point",
    "it sweated",
    "rain",
    "no time left",
    "a crack, to be looked at first",
    "old paint, to be tested for lead first",
)
NOT_ADVISED = "as advised for each metal"


MONEY = ("call_out", "travel", "rate", "day_price", "fixed_price", "least_charge")


class DayForm(forms.Form):
    """The day that an address asks for; what is no day is passed over."""

    date = forms.DateField(required=False)

    @property
    def asked(self) -> dict[str, Any]:
        day = self.cleaned_data.get("date") if self.is_valid() else None
        return {"date": day} if day else {}


class VisitForm(WorkshopForm):
    class Meta:
        model = Visit
        fields = [
            "date", "begins", "ends", "contractor", "call_out", "travel", "rate", "day_price", "fixed_price",
            "least_charge", "free_until", "cancel_share",
            "nozzle_bore", "hose_bore", "most_pressure", "free_air", "wet", "gathered", "brings", "lead", "waste",
        ]  # fmt: skip
        field_classes = dict.fromkeys(MONEY, PriceField)
        widgets = {
            "date": forms.DateInput(),
            "begins": forms.TimeInput(),
            "ends": forms.TimeInput(),
            "brings": forms.Textarea(attrs={"rows": 2}),
            "waste": forms.Textarea(attrs={"rows": 2}),
        }
        help_texts = {
            "day_price": "For the whole day, in place of the hours. Empty: by the hour.",
            "fixed_price": "For all that is on the sheet, in place of all the rest. Empty: none.",
            "least_charge": "A day for less is charged as this. Empty: none.",
            "free_until": "Before it begins.",
            "cancel_share": "Of what the day would have cost.",
            "nozzle_bore": "Of the nozzle as worn, if you know.",
            "hose_bore": "Three to four nozzles wide.",
            "most_pressure": "At the pot. What reaches the nozzle is less.",
            "free_air": "Free air delivered, not what its piston sweeps.",
            "wet": "It lays the dust and wets the iron, which then has half its time bare.",
            "gathered": "Not crushed glass, which breaks at the first blow.",
            "brings": "Rig, compressor, medium, dust sheets, helmet with its own air.",
            "waste": "Who takes the spent grit away, in what, and under which rules.",
        }

    SECTIONS = (
        ("When and who", ("date", "begins", "ends", "contractor")),
        ("Money", (*MONEY, "free_until", "cancel_share")),
        ("The rig", ("nozzle_bore", "hose_bore", "most_pressure", "free_air", "wet", "gathered", "brings")),
        ("Spent grit", ("lead", "waste")),
    )

    def __init__(self, *args: Any, last: Visit | None = None, **kwargs: Any) -> None:
        """`last`: the visit before, whose contractor and rig a new one begins with."""
        first = {name: getattr(last, name) for name in AS_LAST_TIME} if last else USUAL_RIG
        if not kwargs.get("instance"):
            kwargs["initial"] = {**first, **kwargs.get("initial", {})}
        super().__init__(*args, **kwargs)
        units = dict.fromkeys(MONEY, self.workshop.currency)
        for name, unit in {**units, "free_until": "h", "cancel_share": "%"}.items():
            self.print_beside(name, unit)


class TaskRow(ModelRow):
    """`task` is the one that stood here before, so that what is done stays done."""

    telling = ("what",)
    field_order = ("what", "phase", "minutes", "people")

    task = forms.CharField(required=False, widget=forms.HiddenInput)

    class Meta:
        model = VisitTask
        fields = ["phase", "what", "minutes", "people"]


class TaskRows(Rows):
    title = "Tasks"
    about = (
        "What the contractor needs, what is done before the blasting and what after it."
        " Empty what is to be done to take a task out."
    )

    @property
    def kept(self) -> list[tuple[uuid.UUID | None, VisitTask]]:
        return [(as_uuid(row.cleaned_data["task"]), row.instance) for row in self.filled]


TASK_ROWS = rows_of(TaskRow, TaskRows, extra=2)


def task_rows(data: QueryDict | None, visit: Visit) -> TaskRows:
    begin = [{**forms.model_to_dict(task, fields=TaskRow.Meta.fields), "task": task.pk} for task in visit.tasks.all()]
    return TASK_ROWS(data, workshop=visit.workshop, prefix="tasks", begin=begin)


class MediumBox(forms.ModelChoiceField):
    """One of the workshop's media; what is refused for blasting or cannot be reckoned with is told why."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(Medium.objects.filter(retired=False).order_by("from_library", "name"), **kwargs)

    def clean(self, value: Any) -> Medium | None:
        medium = super().clean(value)
        refused = blasting.medium_refusals(medium.value()) if medium else []
        if refused:
            raise forms.ValidationError([refusal_words(each, METRIC) for each in refused])
        return medium


class ChoosePiecesForm(QuestionForm):
    """Which pieces are on a visit, and what those that are new to it get."""

    pieces = forms.ModelMultipleChoiceField(
        Piece.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one piece."},
    )
    medium = MediumBox(required=False, empty_label=NOT_ADVISED)
    grade = forms.ChoiceField(choices=VisitPiece.GRADES, initial=GRADE, label="Clean to")

    def __init__(self, *args: Any, visit: Visit, offered: list[Piece], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offered = offered
        self.offer_rows("pieces", Piece.objects.of(visit.workshop).filter(pk__in=[p.pk for p in offered]))

    @property
    def ticked(self) -> set[str]:
        return {str(getattr(each, "pk", each)) for each in self["pieces"].value() or []}

    @property
    def chosen(self) -> list[Piece]:
        """The ticked pieces, with their log."""
        wanted = {piece.pk for piece in self.cleaned_data["pieces"]}
        return [piece for piece in self.offered if piece.pk in wanted]


class VisitPieceForm(WorkshopForm):
    class Meta:
        model = VisitPiece
        fields = [
            "medium", "surface", "shape", "grade", "pressure_start", "pressure_most", "mask_how", "minutes", "position",
        ]  # fmt: skip
        help_texts = {
            "pressure_start": "At the nozzle, on a test patch.",
            "pressure_most": "At the nozzle.",
            "mask_how": "For example: plugs in the bores, two layers of blasting tape on the faces.",
            "minutes": "Empty: as reckoned.",
            "position": "Empty: as the weather and its size have it.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        in_use = Q(retired=False) | Q(pk=self.instance.medium_id)
        self.offer_rows(
            "medium",
            (Medium.objects.of(self.workshop).filter(in_use).order_by("from_library", "name")),
            none="not chosen yet",
        )


class RefuseForm(QuestionForm):
    key = forms.UUIDField(widget=forms.HiddenInput)
    reason = forms.CharField(
        max_length=150,
        label="Why it is not blasted",
        widget=forms.TextInput(attrs={"list": "usual-reasons"}),
        error_messages={"required": "Say why it is not blasted."},
    )
    surface_temperature = quantity_box("surface_temperature", "Metal")
    air_temperature = quantity_box("air_temperature")
    humidity = quantity_box("humidity")

    @property
    def seen(self) -> dict[str, Quantity]:
        """What was measured, for the log."""
        names = ("surface_temperature", "air_temperature", "humidity")
        return {name: self.cleaned_data[name] for name in names if self.cleaned_data[name] is not None}


class SettleForm(QuestionForm):
    """What the day really took; minutes are asked where the day's own entry has none."""

    hours = Visit._meta.get_field("hours").formfield(required=True, label="Hours asked for")
    paid = PriceField(max_digits=9, decimal_places=2, min_value=0, label="Paid in all")

    def __init__(self, *args: Any, settlement: Settlement, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.settlement = settlement
        self.print_beside("paid", self.workshop.currency)
        for medium, rows in pots(settlement.blasted):
            box = VisitPiece._meta.get_field("used").formfield(required=False, label=f"{medium}, used")
            weighed = [row.used for row in rows if row.used is not None]
            box.initial = sum(weighed[1:], weighed[0]) if weighed else None
            self.fields[f"used-{medium.pk}"] = box
        for row in settlement.blasted:
            if row.blasted and row.blasted.minutes is None:
                box = VisitPiece._meta.get_field("minutes").formfield(required=False, label=str(row.piece))
                box.initial = row.timed
                self.fields[f"minutes-{row.pk}"] = box
        self.settle(self.workshop)

    @property
    def day_boxes(self) -> list[forms.BoundField]:
        return [box for box in self if not box.name.startswith("minutes-")]

    @property
    def minutes_boxes(self) -> list[forms.BoundField]:
        return [box for box in self if box.name.startswith("minutes-")]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if self.errors:
            return cleaned
        entries = [row.blasted for row in self.settlement.blasted if row.blasted]
        logged = [entry.minutes for entry in entries if entry.minutes is not None]
        timed = sum(minutes.to("minute").magnitude for minutes in [*logged, *self.timed.values()])
        whole = cleaned["hours"].to("minute").magnitude
        if timed > whole + 0.5:
            self.add_error("hours", f"The pieces alone took {round(timed)} minutes, and this is {round(whole)}.")
        return cleaned

    def _named(self, prefix: str) -> dict[uuid.UUID, Quantity]:
        return {
            uuid.UUID(name.removeprefix(prefix)): value
            for name, value in self.cleaned_data.items()
            if name.startswith(prefix) and value is not None
        }

    @property
    def used(self) -> dict[uuid.UUID, Quantity]:
        """Kilograms by medium."""
        return self._named("used-")

    @property
    def timed(self) -> dict[uuid.UUID, Quantity]:
        """Minutes by VisitPiece."""
        return self._named("minutes-")
