"""One form for every entry: it shows the boxes that this kind of entry has, for one piece or a whole rack."""

import uuid
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import reduce
from operator import or_
from typing import Any
from uuid import UUID

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.db import models
from django.http import QueryDict
from django.utils import timezone
from django.utils.datastructures import MultiValueDict

from finishing.air.models import Reading
from finishing.coatings.models import FlashRust, Layer
from finishing.site.calendar import CLOCKS_DIFFER
from finishing.site.fields import QuantityField, QuantityFormField
from finishing.workshops.forms.base import OfWorkshop, as_uuid
from finishing.workshops.forms.fields import MomentField
from finishing.workshops.models import Place, Workshop
from projects.record.actions.log import SHARED
from projects.record.images import NotAPhoto, Photograph, photograph, too_many_bytes
from projects.record.models import Piece, Step, Visit
from projects.work.domain.verdicts import Conditions

Kind, BackTo = Step.Kind, Step.BackTo

CONDITIONS = ("place", "air_temperature", "humidity", "surface_temperature")
PAINT = ("layer", *CONDITIONS, "batch", "wet_film", "dry_film", "litres", "minutes", "reason")
BOXES = {
    Kind.RECEIVED: (),
    Kind.BLASTED: (*CONDITIONS, "wet_work", "minutes"),
    Kind.DRIED: ("flash_rust", "inhibitor_claim", *CONDITIONS, "minutes"),
    Kind.LOOKED: CONDITIONS,
    Kind.CAME_CLEAN: ("reason", *CONDITIONS),
    Kind.PREPARED: ("layer", "place", "minutes"),
    Kind.COATED: PAINT,
    Kind.TURNED: ("minutes",),
    Kind.LETTERED: (*CONDITIONS, "batch", "minutes", "reason"),
    Kind.LETTERS_SKIPPED: ("reason",),
    Kind.TOUCHED_UP: (*CONDITIONS, "batch", "minutes"),
    Kind.BLOOM: (),
    Kind.WRINKLED: ("back_to",),
    Kind.DAMAGED: ("back_to",),
    Kind.WETTED: (),
    Kind.PRESERVED: (),
    Kind.CLEANED_OFF: (),
    Kind.MOVED: ("place", "minutes"),
    Kind.WORKED: ("work", "minutes"),
    Kind.NOTED: (),
}
USUAL = (Kind.BLASTED, Kind.PREPARED, Kind.COATED, Kind.LETTERED, Kind.MOVED, Kind.NOTED)
SEEN = {"air_temperature": "degC", "humidity": "percent", "surface_temperature": "degC"}
WORK = ("wet_film", "dry_film", "litres", "minutes")
ALWAYS = ("pieces", "key", "kind", "happened_at", "note", "photos")
NEEDED = {
    Kind.CAME_CLEAN: {"reason": "Say why it needs no blasting."},
    Kind.DRIED: {"flash_rust": "Say how much flash rust shows; none is an answer."},
    Kind.LETTERS_SKIPPED: {"reason": "Say why the letters stay as they are."},
    Kind.MOVED: {"place": "Say where it went."},
    Kind.WORKED: {"work": "Say which work it was.", "minutes": "Say how long it took, all pieces together."},
    Kind.NOTED: {"note": "The note is empty."},
    Kind.PRESERVED: {"note": "Say what it was preserved with, for example oil or wax."},
}
DEFAULT_BACK_TO = {Kind.WRINKLED: BackTo.LAST_COAT, Kind.DAMAGED: BackTo.NOWHERE}
USUAL_REASONS = (
    "warmed before the coat",
    "taken in to dry",
    "test patch was sound",
    "dry wind, wiped before",
    "no other day",
)


class PhotosInput(forms.ClearableFileInput):
    allow_multiple_selected = True


class PhotosField(forms.FileField):
    """Photos as the camera sends them; each is read, turned and stripped, or refused with a word."""

    def clean(self, data: Any, initial: Any = None) -> list[Photograph]:
        photos = []
        for file in data if isinstance(data, list | tuple) else [data] if data else []:
            if file.size and file.size > settings.PHOTO_MOST_BYTES:  # never read into memory
                raise forms.ValidationError(f"{file.name}: {too_many_bytes(file.size, settings.PHOTO_MOST_BYTES)}")
            try:
                photos.append(photograph(file.read(), settings.PHOTO_MOST_BYTES, settings.PHOTO_MOST_PIXELS))
            except NotAPhoto as refusal:
                raise forms.ValidationError(f"{file.name}: {refusal}") from None
        return photos


def quantity_box(name: str, label: str = "") -> QuantityFormField:
    """The box of a Step's column, never required: a fact is there when somebody has it."""
    column = Step._meta.get_field(name)
    assert isinstance(column, QuantityField)
    return column.formfield(required=False, label=label or column.verbose_name.capitalize())


def conditions(value_of: Callable[[str], Any]) -> Conditions:
    """What was measured, as numbers; `value_of` gives the quantity in a box, None where it is empty."""
    values = [(value_of(name), unit) for name, unit in SEEN.items()]
    return Conditions(*(None if value is None else value.to(unit).magnitude for value, unit in values))


@dataclass(frozen=True)
class AskedEntry:
    """What an address asks for: an entry of this kind for these pieces."""

    ticked: list[Piece]
    kind: Step.Kind
    visit: Visit | None
    place: Place | None
    layer: Layer | None
    work: str = ""
    wrong: tuple[Step, ...] = ()  # the entries of a rack that this one is to stand for

    @property
    def layers(self) -> models.QuerySet[Layer]:
        """Layers still to come, where all the pieces have one system; else each piece takes its own next one."""
        if len({piece.part.system_id for piece in self.ticked}) != 1:
            return Layer.objects.none()
        coats = self.kind == Kind.COATED
        coming = {layer.pk for piece in self.ticked for layer in piece.state.coming if layer.is_coat == coats}
        return Layer.objects.filter(pk__in=coming)


class TickedForm(OfWorkshop, forms.Form):
    """An address with pieces, kind of entry, visit, place and layer; what is unknown there is passed over."""

    piece = forms.ModelMultipleChoiceField(Piece.objects.none(), required=False)
    alike = forms.ModelMultipleChoiceField(Piece.objects.none(), required=False, help_text="With all that are like it.")
    pieces = forms.ModelMultipleChoiceField(Piece.objects.none(), required=False)
    kind = forms.ChoiceField(choices=[(kind.value, kind.label) for kind in BOXES], required=False)
    visit = forms.ModelChoiceField(Visit.objects.all(), required=False)
    place = forms.ModelChoiceField(Place.objects.all(), required=False)
    layer = forms.ModelChoiceField(Layer.objects.all(), required=False)
    work = forms.ChoiceField(choices=Step.Work, required=False)
    corrects = forms.UUIDField(required=False, help_text="A rack whose entries are taken back for this one.")

    def __init__(self, data: QueryDict, *, workshop: Workshop):
        super().__init__(data)
        self.workshop, rack = workshop, as_uuid(data.get("corrects"))
        for name in ("piece", "pieces", "alike"):
            self.offer_rows(name, Piece.objects.at_work().with_log(without=rack).in_order())
        self.settle(workshop)

    def asked(self) -> AskedEntry:
        """Without a kind of entry, the first piece's next step."""
        self.is_valid()
        given = self.cleaned_data
        ticked = list({piece.pk: piece for name in ("piece", "pieces") for piece in given.get(name, ())}.values())
        if given.get("alike"):
            ticked += [piece for piece in self._of_like(given["alike"]) if piece not in ticked]
        wrong = tuple(self._wrong(given.get("corrects")))
        if wrong and not ticked:
            box = self.fields["piece"]
            assert isinstance(box, forms.ModelMultipleChoiceField)
            assert box.queryset is not None
            ticked = list(box.queryset.filter(pk__in=[step.piece_id for step in wrong]))
        wanted = given.get("kind") or (wrong[0].kind if wrong else "")
        kind = wanted or (ticked[0].state.next_kind if ticked else Kind.BLASTED)
        rows = (given.get("visit"), given.get("place"), given.get("layer"))
        return AskedEntry(ticked, Kind(kind), *rows, given.get("work") or "", wrong)

    def _wrong(self, rack: UUID | None) -> models.QuerySet[Step]:
        return Step.objects.of_rack(self.workshop, rack).select_related("piece") if rack else Step.objects.none()

    def _of_like(self, pieces: Iterable[Piece]) -> models.QuerySet[Piece]:
        """These and all of the same part, project and place whose log leaves them in the same state."""
        names = ("project", "part", "place", "salt", "kept__said")
        same = Piece.objects.filter(pk__in=[piece.pk for piece in pieces]).order_by().values(*names).distinct()
        box = self.fields["piece"]
        assert isinstance(box, forms.ModelMultipleChoiceField)
        assert box.queryset is not None
        return box.queryset.filter(reduce(or_, (models.Q(**values) for values in same)))


def _first_values(asked: AskedEntry, now: datetime) -> dict[str, Any]:
    """What the boxes begin with: the place, its reading where that is fresh, the last batch of the same paint."""
    first = {
        "key": uuid.uuid4(),
        "kind": asked.kind,
        "pieces": [piece.pk for piece in asked.ticked],
        "happened_at": timezone.localtime(now).replace(second=0, microsecond=0, tzinfo=None),
        "back_to": DEFAULT_BACK_TO.get(asked.kind),
        "wet_work": bool(asked.visit and asked.visit.wet),
        "layer": asked.layer,
        "work": asked.work,
    }
    if not asked.ticked:
        return first
    if asked.wrong and asked.wrong[0].kind == asked.kind:
        return first | _old_values(asked.wrong)
    state = asked.ticked[0].state
    place = first["place"] = asked.place or state.place or asked.ticked[0].place
    reading = Reading.objects.fresh_at(place, now)
    if reading:
        first |= {"air_temperature": reading.temperature, "humidity": reading.humidity}
    if asked.kind == Kind.COATED and state.next_coat and state.next_coat.coating:
        first["batch"] = Step.objects.last_batch(state.next_coat.coating)
    return first


def _old_values(wrong: Iterable[Step]) -> dict[str, Any]:
    """What stands in the entries of a rack, as it was typed for all of them."""
    steps = list(wrong)
    old = {name: getattr(steps[0], name) for name in (*BOXES[Kind(steps[0].kind)], "note")}
    for name in SHARED:
        shares = [getattr(step, name) for step in steps]
        old[name] = None if None in shares else sum(shares[1:], shares[0])
    layers = {step.layer for step in steps}
    when = timezone.localtime(steps[0].happened_at).replace(tzinfo=None)
    return {**old, "happened_at": when, "layer": layers.pop() if len(layers) == 1 else None}


class LogForm(OfWorkshop, forms.Form):
    quiet = (*SEEN, *WORK, "batch", "reason", "note", "photos")
    key = forms.UUIDField(widget=forms.HiddenInput)
    kind = forms.ChoiceField(choices=Kind, widget=forms.HiddenInput)
    pieces = forms.ModelMultipleChoiceField(
        Piece.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one piece."},
    )
    happened_at = MomentField(
        label="When", widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
    )
    work = forms.ChoiceField(choices=[("", "–"), *Step.Work.choices], required=False, label="Which work")
    layer = forms.ModelChoiceField(
        Layer.objects.none(), required=False, label="Which layer", empty_label="the next one of each"
    )
    place = forms.ModelChoiceField(Place.objects.all(), required=False)
    air_temperature = quantity_box("air_temperature")
    humidity = quantity_box("humidity")
    surface_temperature = quantity_box("surface_temperature", "Metal")
    batch = forms.CharField(max_length=40, required=False, label="Batch number on the tin")
    wet_film = quantity_box("wet_film")
    dry_film = quantity_box("dry_film")
    litres = quantity_box("litres", "Paint used, all pieces together")
    minutes = quantity_box("minutes", "Time taken, all pieces together")
    wet_work = forms.BooleanField(required=False, label="Blasted wet, or washed")
    flash_rust = forms.ChoiceField(
        choices=FlashRust, required=False, label="Flash rust that shows", widget=forms.RadioSelect
    )
    inhibitor_claim = quantity_box("inhibitor_claim")
    back_to = forms.ChoiceField(choices=BackTo, label="What it needs", widget=forms.RadioSelect)
    reason = forms.CharField(max_length=200, required=False, widget=forms.TextInput(attrs={"list": "usual-reasons"}))
    note = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 2}))
    photos = PhotosField(
        required=False, widget=PhotosInput(attrs={"accept": "image/*", "multiple": True}), label="Photos"
    )

    def __init__(
        self,
        data: QueryDict | None = None,
        files: MultiValueDict[str, UploadedFile] | None = None,
        *,
        workshop: Workshop,
        asked: AskedEntry,
        now: datetime,
    ):
        super().__init__(data, files, initial=_first_values(asked, now))
        self.entry, self.now = asked.kind, now
        shown = {*ALWAYS, *BOXES[asked.kind]}
        for name in list(self.fields):
            if name not in shown:
                del self.fields[name]
        self.offer_rows("pieces", Piece.objects.at_work().with_log().in_order())
        if "layer" in self.fields:
            self.offer_rows("layer", asked.layers)
        for name, words in NEEDED.get(asked.kind, {}).items():
            self.fields[name].required, self.fields[name].error_messages["required"] = True, words
        self.settle(workshop)

    def clean_happened_at(self) -> datetime:
        when = self.cleaned_data["happened_at"]
        if when > self.now + CLOCKS_DIFFER:
            clock = timezone.localtime(self.now)
            raise forms.ValidationError(
                f"That lies ahead: it is {clock:%H:%M} on {clock.day} {clock:%B} now. Check date and clock."
            )
        return when

    def clean(self) -> dict[str, Any]:
        super().clean()
        for name, words in NEEDED.get(self.entry, {}).items():
            if not self.cleaned_data.get(name) and name not in self.errors:
                self.add_error(name, words)
        return self.cleaned_data

    def boxes(self, *names: str) -> list[forms.BoundField]:
        """Those of these boxes that this kind of entry has, for the page."""
        return [self[name] for name in names if name in self.fields]

    def _value(self, name: str) -> Any:
        """What stands in a box now, typed or prefilled; None where it is empty or wrong."""
        if not self.is_bound:
            return self.initial.get(name)
        self.is_valid()
        return self.cleaned_data.get(name)

    @property
    def when(self) -> datetime:
        return (self._value("happened_at") if self.is_bound else None) or self.now

    @property
    def chosen_layer(self) -> Layer | None:
        return self._value("layer")

    @property
    def degree(self) -> str:
        """Of flash rust."""
        return self._value("flash_rust") or ""

    @property
    def seen(self) -> Conditions:
        return conditions(self._value)

    @property
    def facts(self) -> dict[str, Any]:
        """What goes into each entry as it was typed."""
        own = {name: self.cleaned_data.get(name) for name in (*BOXES[self.entry], "note") if name != "layer"}
        return {name: value for name, value in own.items() if value not in (None, "")}


class EntriesField(forms.ModelMultipleChoiceField):
    def label_from_instance(self, obj: Step) -> str:
        return str(obj.piece)


class VoidForm(forms.Form):
    """Why, and which of the entries that were made together."""

    entries = EntriesField(
        Step.objects.none(), required=False, widget=forms.CheckboxSelectMultiple, label="Of these pieces"
    )
    reason = forms.CharField(max_length=200, label="Why it is taken back")

    def __init__(self, data: QueryDict | None, *, step: Step, rack: models.QuerySet[Step]):
        super().__init__(data, initial={"entries": [each.pk for each in rack]})
        box = self.fields["entries"]
        assert isinstance(box, forms.ModelMultipleChoiceField)
        box.queryset = rack
        if len(rack) < 2:
            del self.fields["entries"]
