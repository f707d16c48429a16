"""Pieces: several made at once, one changed."""

import uuid
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from finishing.site.searching import containing
from finishing.workshops.forms.base import FilterForm, QuestionForm, WorkshopForm
from finishing.workshops.models import Place, Workshop
from projects.record.domain.marks import propose_marks
from projects.record.domain.proved import current_revision
from projects.record.models import Machine, Part, Piece, Project
from projects.record.models.pieces import PieceQuerySet
from projects.record.models.stages import Stage

MOST_PIECES = 1000
STAYS = ("", "leave as it is")
SALT = [("", "as the workshop says"), *Workshop.Salt.choices]


class WhichPiecesForm(QuestionForm):
    """Which parts of which machines: from this the marks are proposed."""

    part = forms.ModelMultipleChoiceField(
        Part.objects.all(),
        label="Parts",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one part."},
    )
    machine = forms.ModelMultipleChoiceField(
        Machine.objects.all(),
        label="Of the machines",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="None ticked: the pieces of one machine, without its number.",
    )

    def __init__(self, *args: Any, project: Project, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.project = project
        self.offer_rows("part", project.design.parts.all())
        self.offer_rows("machine", project.machines.all())
        if not project.machines.exists():
            del self.fields["machine"]

    def clean(self) -> dict[str, Any]:
        super().clean()
        cleaned = self.cleaned_data
        of_a_machine = sum(part.quantity for part in cleaned.get("part", ()))
        if of_a_machine * max(1, len(cleaned.get("machine", ()))) > MOST_PIECES:
            raise ValidationError(f"These are more than {MOST_PIECES} pieces; make them in several goes.")
        return cleaned

    def proposed(self) -> list[dict[str, Any]]:
        """A row for each piece wanted, with its mark."""
        parts, machines = self.cleaned_data["part"], list(self.cleaned_data.get("machine") or [None])
        wanted = [(part, machine) for part in parts for machine in machines for _ in range(part.quantity)]
        marked: dict[str, list[str]] = {name: [] for name in self.project.design.parts.values_list("name", flat=True)}
        for name, mark in self.project.pieces.values_list("part__name", "mark"):
            marked[name].append(mark)
        marks = propose_marks([part.name for part, _ in wanted], marked)
        return [
            {"id": uuid.uuid4(), "part": part.pk, "machine": machine and machine.pk, "mark": mark}
            for (part, machine), mark in zip(wanted, marks, strict=True)
        ]


class StandsForm(QuestionForm):
    """What all the new pieces share."""

    place = forms.ModelChoiceField(Place.objects.all(), label="They stand in", empty_label=None)
    salt = forms.ChoiceField(choices=SALT, required=False, label="Salt on the iron")
    old_paint = forms.BooleanField(required=False, label="They have old paint")


class PieceRow(forms.Form):
    """One new piece; without a mark it is left out."""

    id = forms.UUIDField(widget=forms.HiddenInput)
    part = forms.UUIDField(widget=forms.HiddenInput)
    machine = forms.UUIDField(widget=forms.HiddenInput, required=False)
    mark = forms.CharField(max_length=40, required=False)

    def __init__(self, *args: Any, parts: dict[str, Part], machines: dict[str, Machine], **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.part_row = parts.get(str(self["part"].value()))
        self.machine_row = machines.get(str(self["machine"].value()))

    def clean(self) -> dict[str, Any]:
        super().clean()
        if self.part_row is None or (self.cleaned_data.get("machine") and self.machine_row is None):
            self.add_error("mark", "Its part or machine is not in this project any more.")
        return self.cleaned_data

    def piece(self, project: Project, **shared: Any) -> Piece:
        """Not yet saved, made to the newest revision of its part."""
        assert self.part_row is not None  # else it is not valid
        return Piece(
            id=self.cleaned_data["id"],
            workshop_id=project.workshop_id,
            project=project,
            part=self.part_row,
            machine=self.machine_row,
            mark=self.cleaned_data["mark"],
            revision=current_revision(self.part_row),
            **shared,
        )


class PieceRows(forms.BaseFormSet):
    def __init__(self, *args: Any, project: Project, **kwargs: Any):
        self.project = project
        super().__init__(*args, **kwargs)

    def clean(self) -> None:
        if any(self.errors):
            return
        known = dict(self.project.pieces.values_list("mark", "pk"))
        for form in self.kept:
            mark, key = form.cleaned_data["mark"], form.cleaned_data["id"]
            if known.setdefault(mark, key) != key:
                form.add_error("mark", f"There is a {mark} already.")
        if not self.kept:
            raise ValidationError("Every mark is empty, so there is nothing to make.")

    @property
    def kept(self) -> list[PieceRow]:
        return [form for form in self.forms if form.cleaned_data.get("mark")]

    def pieces(self, **shared: Any) -> list[Piece]:
        return [form.piece(self.project, **shared) for form in self.kept]


def piece_rows(project: Project, data: Any = None, initial: Any = None) -> PieceRows:
    rows: type[Any] = forms.formset_factory(
        PieceRow, formset=PieceRows, extra=0, max_num=MOST_PIECES, absolute_max=MOST_PIECES + 1, validate_max=True
    )
    own: dict[str, Any] = {
        "parts": {str(part.pk): part for part in project.design.parts.prefetch_related("revisions")},
        "machines": {str(machine.pk): machine for machine in project.machines.all()},
    }
    return rows(data, initial=initial, project=project, form_kwargs=own)


class PieceForm(WorkshopForm):
    salt = forms.ChoiceField(choices=SALT, required=False, label="Salt on the iron")

    class Meta:
        model = Piece
        fields = ["mark", "machine", "revision", "place", "salt", "old_paint"]
        labels = {"place": "Stood first in"}
        help_texts = {"place": "Later moves are entries in the log."}

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.offer_rows("machine", self.instance.project.machines.all(), none="none in particular")
        self.offer_rows("revision", self.instance.part.revisions.all(), none="not said")
        self.offer_rows("place", Place.objects.of(self.workshop), none=None)


class PiecesFilter(FilterForm):
    """Pieces of a project by their mark, part, machine, stage and place."""

    text = forms.CharField(label="Words", required=False, max_length=100)
    part = forms.ModelChoiceField(Part.objects.all(), required=False)
    machine = forms.ModelChoiceField(Machine.objects.all(), required=False)
    stage = forms.ChoiceField(choices=[("", "all"), *Stage.choices], required=False)
    place = forms.ModelChoiceField(Place.objects.all(), label="Stands in", required=False)
    aside = forms.BooleanField(label="Set aside", required=False)

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_rows("part", project.design.parts.all(), none="all")
        self.offer_rows("machine", project.machines.all(), none="all")
        self.offer_rows("place", Place.objects.of(self.workshop), none="all")

    def narrowed(self, pieces: PieceQuerySet) -> PieceQuerySet:
        """As `as_they_stand` gives them."""
        asked = self.asked
        ways = {"part": "part", "machine": "machine", "stage": "stage_now", "place": "place_now"}
        pieces = pieces.filter(containing(asked.get("text", ""), "mark", "part__name", "machine__number"))
        pieces = pieces.filter(
            **{way: getattr(asked[name], "pk", asked[name]) for name, way in ways.items() if name in asked}
        )
        return pieces.filter(set_aside=True) if "aside" in asked else pieces


class PiecesChangeForm(QuestionForm):
    """What many pieces are given at once; what is left empty stays as each has it."""

    quiet = True
    place = forms.ModelChoiceField(Place.objects.all(), label="They stand in", required=False)
    machine = forms.ModelChoiceField(Machine.objects.all(), required=False)
    salt = forms.ChoiceField(
        label="Salt on the iron", choices=[("", "leave as it is"), *Workshop.Salt.choices], required=False
    )
    old_paint = forms.ChoiceField(
        choices=[("", "leave as it is"), ("yes", "they have some"), ("no", "they have none")], required=False
    )
    set_aside = forms.ChoiceField(
        label="Set aside",
        choices=[("", "leave as it is"), ("yes", "set aside"), ("no", "take up again")],
        required=False,
    )

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_rows("place", Place.objects.of(self.workshop), none="leave as it is")
        self.offer_rows("machine", project.machines.all(), none="leave as it is")

    @property
    def asked(self) -> dict[str, Any]:
        """The columns that are given a value."""
        given = {name: value for name, value in self.cleaned_data.items() if value not in (None, "")}
        return {name: value == "yes" if name in ("old_paint", "set_aside") else value for name, value in given.items()}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if not self.errors and not self.asked:
            self.add_error(None, "Say what is to be changed.")
        return cleaned
