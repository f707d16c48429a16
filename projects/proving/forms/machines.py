"""A machine put together: a piece fitted into its place, a check done."""

from datetime import datetime
from typing import Any
from uuid import UUID

from django import forms

from finishing.site.calendar import CLOCKS_DIFFER
from finishing.site.templatetags.clock import clock
from finishing.workshops.forms.base import QuestionForm, WorkshopForm
from finishing.workshops.forms.fields import MomentField
from finishing.workshops.models import User
from projects.proving.domain.assembly import Seat, sits_in
from projects.record.models import Check, Fitting, Machine, Part, Piece, Revision, Trial

PICKER = "%Y-%m-%dT%H:%M"


def _moment(label: str) -> MomentField:
    widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format=PICKER)
    return MomentField(label=label, widget=widget)


def _after(when: datetime, earliest: datetime | None) -> datetime | None:
    """A picker knows no seconds: in the same minute it was after what was done before; None: it cannot have been."""
    if earliest is None or when >= earliest:
        return when
    return earliest if when.replace(second=59, microsecond=999999) >= earliest else None


class SeatForm(QuestionForm):
    """Which place of a machine is asked for by its address."""

    part = forms.ModelChoiceField(Part.objects.all())
    position = forms.IntegerField(min_value=1)

    def __init__(self, *args: Any, machine: Machine, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_rows("part", machine.project.design.parts.all())


class PieceChoice(forms.ModelChoiceField):
    """A piece by its mark and revision, with where it sits now."""

    sitting: dict[UUID, Fitting] = {}

    def label_from_instance(self, obj: Piece) -> str:
        revision = f", revision {obj.revision.label}" if obj.revision else ""
        there = self.sitting.get(obj.pk)
        return f"{obj.mark}{revision}{f' (sits in {there.machine})' if there else ''}"


class FittingForm(WorkshopForm):
    fitted_at = _moment("When")

    class Meta:
        model = Fitting
        fields = ["piece", "shims", "note", "fitted_at"]
        field_classes = {"piece": PieceChoice}
        help_texts = {"shims": "As fitted, for example: 0.2 mm under the left foot."}

    def __init__(self, *args: Any, machine: Machine, seat: Seat, by: User, now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, initial={"fitted_at": now}, **kwargs)
        self.seat, self.now = seat, now
        row = self.instance
        if row._state.adding:
            row.machine, row.part, row.position, row.by = machine, seat.part, seat.position, by
        pieces = Piece.objects.sound().filter(project=machine.project_id, part=seat.part)
        none = "nothing: taken out" if seat.piece else "none"
        self.offer_rows("piece", pieces.select_related("revision").order_by("mark"), none=none)
        box = self.fields["piece"]
        assert isinstance(box, PieceChoice)
        box.sitting = self.sitting = sits_in(pieces)

    @property
    def out_of(self) -> Fitting | None:
        """The other place that the chosen piece is taken from."""
        piece = self.cleaned_data.get("piece")
        there = self.sitting.get(piece.pk) if piece else None
        here = (self.instance.machine_id, self.seat.position)
        return there if there and (there.machine_id, there.position) != here else None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if not self.errors:
            if cleaned["piece"] is None and self.seat.piece is None:
                self.add_error("piece", "Choose the piece that goes in; nothing sits here to be taken out.")
            self._put_in_order(cleaned["fitted_at"])
        return cleaned

    def _put_in_order(self, when: datetime) -> None:
        """Fitted in the order in which it was done, so that what sits where is never in doubt."""
        changes = [self.seat.since, self.out_of.fitted_at if self.out_of else None]
        earliest = max((change for change in changes if change), default=None)
        after = _after(when, earliest)
        if when > self.now + CLOCKS_DIFFER:
            self.add_error("fitted_at", "This is still to come.")
        elif after is None:
            self.add_error("fitted_at", f"The last change here was {clock(earliest)}; this cannot be before it.")
        else:
            self.cleaned_data["fitted_at"] = after


class TrialForm(WorkshopForm):
    passed = forms.TypedChoiceField(
        label="How it came out",
        choices=[("yes", "passed"), ("no", "failed")],
        coerce=lambda word: word == "yes",
        widget=forms.RadioSelect,
        error_messages={"required": "Say whether it passed."},
    )
    revision = forms.ModelChoiceField(Revision.objects.none(), empty_label=None, label="Which was tried")
    tried_at = _moment("When")

    class Meta:
        model = Trial
        fields = ["passed", "measured", "note", "revision", "tried_at"]
        help_texts = {"measured": "The value, with its unit."}

    def __init__(
        self, *args: Any, machine: Machine, check: Check, seats: list[Seat], by: User, now: datetime, **more: Any
    ):
        super().__init__(*args, initial={"tried_at": now}, **more)
        self.now = now
        row = self.instance
        if row._state.adding:
            row.machine, row.check_done, row.by = machine, check, by
        own = [seat for seat in seats if seat.part.pk == check.part_id]
        self.earliest = max((seat.since for seat in own if seat.since), default=None)
        self.tried = {seat.revision for seat in own if seat.revision}
        self.offer_rows("revision", Revision.objects.filter(pk__in=[revision.pk for revision in self.tried]))
        if len(self.tried) < 2:
            del self.fields["revision"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if "tried_at" in cleaned:
            self._put_in_order(cleaned["tried_at"])
        if len(self.tried) == 1:
            self.instance.revision = next(iter(self.tried))
        return cleaned

    def _put_in_order(self, when: datetime) -> None:
        after = _after(when, self.earliest)
        if when > self.now + CLOCKS_DIFFER:
            self.add_error("tried_at", "This is still to come.")
        elif after is None:
            self.add_error("tried_at", f"What sits there now was put in {clock(self.earliest)}, after this.")
        else:
            self.cleaned_data["tried_at"] = after
