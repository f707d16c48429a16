"""What a plan is allowed, as a form: which projects, by which aims, who works, where, which visits, which racks."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from django import forms
from django.core.exceptions import ValidationError

from finishing.science.scheduling.schedule import AIMS, Aim
from finishing.site.fields import QuantityFormField
from finishing.workshops.forms.base import QuestionForm, as_uuid
from finishing.workshops.forms.fields import NumberField, PriceField
from finishing.workshops.models import Membership, Place, User, Workshop
from projects.plans.domain.terms import OVERTIME_PAY, SECONDS
from projects.record.models import Piece, Project, Visit

AIM_WORDS = {
    Aim.LATENESS: "promised dates kept",
    Aim.FINISH: "the earliest finish",
    Aim.COST: "the least money",
    Aim.MARGIN: "the most dew-point margin",
}
AIM_BOXES = ("first", "second", "third", "fourth")
MOST_OVERTIME = 6  # h
REMEMBERED = (
    "people", "visits", "overtime", "overtime_pay", "sunday", "largest", "stands_in", "waiting", "seconds", "projects",
)  # fmt: skip
_USUAL = {"seconds": int(SECONDS), "overtime_pay": OVERTIME_PAY}
ticks = forms.CheckboxSelectMultiple


class PlanSettingsForm(QuestionForm):
    """Its `settings` are those of projects.plans.domain.terms; `was` is what it begins with."""

    quiet = True
    projects = forms.ModelMultipleChoiceField(
        Project.objects.filter(closed=False),
        widget=ticks,
        error_messages={"required": "Tick at least one project."},
    )
    people = forms.ModelMultipleChoiceField(
        User.objects.none(),
        widget=ticks,
        label="Who works",
        error_messages={"required": "Tick at least one person: nobody could do the work."},
    )
    overtime = NumberField(
        required=False,
        label="Hours added to each day",
        min_value=0,
        max_value=MOST_OVERTIME,
        help_text=f"At most {MOST_OVERTIME}. A plan takes them where they gain something.",
    )
    overtime_pay = NumberField(
        required=False, label="An hour of them costs", min_value=1, max_value=5, help_text="Times the usual hour."
    )
    sunday = forms.BooleanField(required=False, label="Days that are usually free are worked too")
    visits = forms.ModelMultipleChoiceField(
        Visit.objects.still_open(),
        widget=ticks,
        required=False,
        label="Visits on offer",
        help_text="A plan takes as few of them as it needs.",
    )
    largest = QuantityFormField(
        unit="m²",
        minimum=0.01,
        maximum=1000,
        required=False,
        label="Largest rack",
        help_text="Pieces that are not on a rack below are hung on racks up to this.",
    )
    stands_in = forms.TypedChoiceField(
        choices=((0, "as the forecast says"), *((n, f"at least {n} of 10") for n in (7, 8, 9))),
        coerce=int,
        required=False,
        label="The whole plan stands in",
        help_text="Of an ensemble's members: hours that too many of them refuse are left out, and the whole plan is"
        " counted. It takes some minutes; without an ensemble the margin stands in for it.",
    )
    waiting = PriceField(
        required=False,
        min_value=0,
        label="A day's later finish costs",
        help_text="Weighed against coats that an uncertain sky would spoil; without it, an hour's wage.",
    )
    seconds = forms.IntegerField(
        min_value=1,
        max_value=600,
        label="Improved for at most",
        help_text="Seconds. It ends sooner where nothing better is possible, leaves an aim in which nothing better "
        "came for half of them, and can be stopped.",
    )

    def __init__(
        self,
        *args: Any,
        workshop: Workshop,
        pieces: Iterable[Piece],
        hung_on: Mapping[UUID, str],
        was: dict[str, Any],
        **kwargs: Any,
    ) -> None:
        """pieces: those with boxes here; what was said of others stays · hung_on: their racks in the newest plan."""
        initial = {**_USUAL, **{name: was[name] for name in REMEMBERED if was.get(name) is not None}}
        super().__init__(*args, workshop=workshop, initial=initial, **kwargs)
        self.was = was
        self.pieces, self.places, self.hung_on = list(pieces), list(Place.objects.of(workshop)), hung_on
        members = Membership.objects.of(workshop).exclude(role=Membership.Role.GUEST)
        self.offer_rows("people", User.objects.filter(memberships__in=members).order_by("username"))
        for place_in_order, aim in zip(AIM_BOXES, was.get("aims") or AIMS, strict=False):
            self.fields[place_in_order] = forms.ChoiceField(
                choices=[*AIM_WORDS.items()], label=place_in_order.capitalize(), initial=aim
            )
        for place in self.places:
            self._add_place(place, was)
        for piece in self.pieces:
            self._add_piece(piece, was)
        self.print_beside("waiting", workshop.currency)
        self.settle(workshop)
        for name in ("people", "projects", "visits"):  # all are ticked to begin with
            box = self.fields[name]
            assert isinstance(box, forms.ModelMultipleChoiceField)
            box.initial = box.queryset

    def _add_place(self, place: Place, was: dict[str, Any]) -> None:
        used, pk = was.get("places"), str(place.pk)
        boxes: dict[str, forms.Field] = {
            "use": forms.BooleanField(required=False, label=str(place), initial=used is None or pk in used),
            "hold": QuantityFormField(unit="°C", minimum=-10, maximum=40, required=False, label="Held at"),
            "dry": QuantityFormField(unit="%", minimum=20, maximum=95, required=False, label="Not damper than"),
            "hold_cost": PriceField(required=False, min_value=0, label="Costs an hour"),
        }
        for name, box in boxes.items():
            if name != "use":
                box.initial = (was.get(name) or {}).get(pk)
            if name == "use" or not place.outdoors:
                self.fields[f"{name}-{pk}"] = box
            if name == "hold_cost" and not place.outdoors:
                self.print_beside(f"hold_cost-{pk}", place.workshop.currency)

    def _add_piece(self, piece: Piece, was: dict[str, Any]) -> None:
        there = (was.get("not_before") or {}).get(str(piece.pk))
        self.fields[f"rack-{piece.pk}"] = forms.CharField(
            max_length=60,
            required=False,
            label="Rack",
            initial=(was.get("racks") or {}).get(str(piece.pk), ""),
            widget=forms.TextInput(attrs={"list": "racks"}),
        )
        self.fields[f"not_before-{piece.pk}"] = forms.DateField(
            required=False, label="Not there before", initial=there and datetime.fromisoformat(there).date()
        )

    # -- for the page

    @property
    def aim_boxes(self) -> list[forms.BoundField]:
        return [self[box] for box in AIM_BOXES]

    @property
    def place_rows(self) -> list[tuple[Place, list[forms.BoundField]]]:
        names = ("use", "hold", "dry", "hold_cost")
        return [(p, [self[f"{n}-{p.pk}"] for n in names if f"{n}-{p.pk}" in self.fields]) for p in self.places]

    @property
    def piece_rows(self) -> list[tuple[Piece, str, forms.BoundField, forms.BoundField]]:
        """Each piece with the rack that it hangs on in the newest plan, and its boxes."""
        return [
            (piece, self.hung_on.get(piece.pk, ""), self[f"rack-{piece.pk}"], self[f"not_before-{piece.pk}"])
            for piece in self.pieces
        ]

    # A fold lies open where something in it was chosen before or is wrong, or where there is nothing to fold.

    @property
    def places_open(self) -> bool:
        uses = [use for _, (use, *_) in self.place_rows]
        return not all(use.value() for use in uses) or _chosen(
            *(box for _, (_, *held) in self.place_rows for box in held)
        )

    @property
    def racks_open(self) -> bool:
        return not self.pieces or _chosen(self["largest"], *(box for _, _, *boxes in self.piece_rows for box in boxes))

    @property
    def way_open(self) -> bool:
        box = self["seconds"]
        return bool(box.errors) or str(box.value()) != str(_USUAL[box.name])

    # -- what was typed

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        chosen = [cleaned.get(box) for box in AIM_BOXES if cleaned.get(box)]
        for box in AIM_BOXES:
            if cleaned.get(box) and chosen.count(cleaned[box]) > 1:
                self.add_error(box, ValidationError("This stands in the order twice."))
        if not any(cleaned.get(f"use-{place.pk}") for place in self.places):
            self.add_error(None, "Tick at least one place: there is nowhere to work.")
        return cleaned

    @property
    def aims(self) -> list[str]:
        return [self.cleaned_data[box] for box in AIM_BOXES]

    @property
    def settings(self) -> dict[str, Any]:
        """Only what differs from the workshop's own."""
        given = self.cleaned_data
        typed = {
            "people": [str(person.pk) for person in given["people"]],
            "visits": [str(visit.pk) for visit in given["visits"]],
            "places": [str(place.pk) for place in self.places if given.get(f"use-{place.pk}")],
            "overtime": given["overtime"],
            "overtime_pay": given["overtime_pay"],
            "sunday": given["sunday"],
            "largest": given["largest"] and float(given["largest"].to("m**2").magnitude),
            "stands_in": given["stands_in"] or None,
            "waiting": None if given["waiting"] is None else str(given["waiting"]),
            "seconds": given["seconds"],
            "hold": self._by_place("hold", "degC"),
            "dry": self._by_place("dry", "percent"),
            "hold_cost": {pk: str(cost) for pk, cost in self._typed("hold_cost", self.places)},
            "racks": self._of_others("racks") | dict(self._typed("rack", self.pieces)),
            "not_before": self._of_others("not_before")
            | {
                pk: self.workshop.at(day, self.workshop.work_from).isoformat()
                for pk, day in self._typed("not_before", self.pieces)
            },
        }
        return {name: value for name, value in typed.items() if value not in (None, False, {})}

    def _of_others(self, name: str) -> dict[str, Any]:
        """What was said before of pieces that have no box here."""
        shown = {str(piece.pk) for piece in self.pieces}
        return {pk: said for pk, said in (self.was.get(name) or {}).items() if pk not in shown}

    def _by_place(self, name: str, unit: str) -> dict[str, float]:
        return {pk: float(value.to(unit).magnitude) for pk, value in self._typed(name, self.places)}

    def _typed(self, name: str, rows: Iterable[Place | Piece]) -> list[tuple[str, Any]]:
        """What was typed in this box of each row."""
        typed = [(str(row.pk), self.cleaned_data.get(f"{name}-{row.pk}")) for row in rows]
        return [(pk, value) for pk, value in typed if value not in (None, "")]


def shown_pieces(sent: Mapping[str, str]) -> list[UUID]:
    """The pieces whose boxes stood on the page that was sent."""
    names = (name.removeprefix("rack-") for name in sent if name.startswith("rack-"))
    return [pk for pk in map(as_uuid, names) if pk]


def _chosen(*boxes: forms.BoundField) -> bool:
    return any(box.errors or box.value() for box in boxes)
