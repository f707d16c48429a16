"""Photos brought, looked for and told of."""

import uuid
from typing import Any

from django import forms

from finishing.workshops.forms.base import QuestionForm, WorkshopForm
from finishing.workshops.forms.fields import MomentField
from projects.photos.actions import Pinned
from projects.photos.domain import Wanted
from projects.record.models import Machine, Part, Photo, Piece, Project
from projects.record.models.photos import Chapter
from projects.strip_down.forms import OnMachineChoice
from projects.work.forms.log import PhotosField, PhotosInput


class AddPhotosForm(QuestionForm):
    """Many at once; each is sent by itself where the page's script runs."""

    quiet = True
    key = forms.UUIDField(widget=forms.HiddenInput)
    batch = forms.UUIDField(required=False, widget=forms.HiddenInput)
    photos = PhotosField(
        label="Photos",
        widget=PhotosInput(attrs={"accept": "image/*", "multiple": True}),
        error_messages={"required": "Choose at least one photo."},
    )
    piece = OnMachineChoice(
        Piece.objects.none(), required=False, label="They show", empty_label="the machine, or several parts"
    )
    machine = forms.ModelChoiceField(
        Machine.objects.none(), required=False, label="Which machine", empty_label="the project as a whole"
    )
    stage = forms.ChoiceField(
        choices=[("", "as the log says for when each was taken"), *Chapter.choices], required=False, label="Stage"
    )
    caption = forms.CharField(required=False, max_length=300, label="What they show, in words")
    kept_back = forms.BooleanField(required=False, label="Not for the customer")

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        kwargs["initial"] = {"key": uuid.uuid4(), "batch": uuid.uuid4()} | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)
        self.project = project
        self.offer_rows("piece", project.pieces.select_related("part").order_by("part__name", "mark"))
        self.offer_rows("machine", project.machines.all())
        if not project.machines.exists():
            del self.fields["machine"]

    def clean_photos(self) -> Any:
        photos = self.cleaned_data["photos"]
        if not photos:
            raise forms.ValidationError("Choose at least one photo.")
        return photos

    @property
    def pinned(self) -> Pinned:
        given = self.cleaned_data
        told = {name: given[name] for name in ("piece", "stage", "caption", "kept_back")}
        return Pinned(project=self.project, machine=given.get("machine"), **told)


class FindPhotosForm(QuestionForm):
    """What is not understood is passed over."""

    quiet = True
    stage = forms.ChoiceField(choices=[("", "any"), *Chapter.choices], required=False)
    part = forms.ModelChoiceField(Part.objects.none(), required=False, empty_label="any")
    first = forms.DateField(required=False, label="From", widget=forms.DateInput(attrs={"type": "date"}))
    last = forms.DateField(required=False, label="To", widget=forms.DateInput(attrs={"type": "date"}))
    text = forms.CharField(required=False, max_length=100, label="Words, mark or tag")

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_rows("part", project.design.parts.all())

    @property
    def wanted(self) -> Wanted:
        self.is_valid()
        known = ("stage", "part", "first", "last", "text")
        return Wanted(**{name: value for name in known if (value := self.cleaned_data.get(name))})


class PhotoForm(WorkshopForm):
    taken_at = MomentField(
        label="Taken", widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
    )

    class Meta:
        model = Photo
        fields = ["caption", "stage", "taken_at", "kept_back"]


class StoryPageForm(QuestionForm):
    words = forms.CharField(required=False, max_length=3000, label="In words", widget=forms.Textarea(attrs={"rows": 3}))
    shared = forms.BooleanField(required=False, label="The customer may read this page")
