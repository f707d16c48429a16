"""What is asked while colours are tried out (photo, marks, a candidate, an answer); and a nameplate's words."""

from typing import Any

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile

from finishing.coatings.models import Coating
from finishing.workshops.forms.base import QuestionForm, WorkshopForm
from finishing.workshops.forms.fields import NumberField
from projects.lettering.images import NOT_WHOLE, NotAMask, colour_of_lid, read_mask
from projects.record.images import NotAPhoto, photograph
from projects.record.models import Candidate, ColourReply, Part, Photo, TryOut, Wording

PNG_AS_TEXT = "data:image/png;base64,"
MOST_CANDIDATES = 12
MOST_REPLIES = 40
LONGEST_WORDING = Part._meta.get_field("lettering").max_length or 0


class PhotoToTryForm(QuestionForm):
    """On which photo of the part's pieces."""

    photo = forms.ModelChoiceField(
        Photo.objects.none(), widget=forms.RadioSelect, empty_label=None, error_messages={"required": "Choose a photo."}
    )


class MaskField(forms.CharField):
    """What was brushed, as the page's script sends it: a PNG written as text; None where nothing was sent."""

    widget = forms.HiddenInput

    def clean(self, value: Any) -> str | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            if not text.startswith(PNG_AS_TEXT):
                raise NotAMask(NOT_WHOLE)
            return read_mask(text.removeprefix(PNG_AS_TEXT))
        except NotAMask as refusal:
            raise forms.ValidationError(str(refusal)) from None


class MarksForm(WorkshopForm):
    """What on the photo are letters and what is body."""

    mask = MaskField(required=False)
    split = NumberField(
        label="Tone between letters and body",
        required=False,
        min_value=1,
        max_value=99,
        help_text="0 is black, 100 white. Empty: found by itself.",
    )

    class Meta:
        model = TryOut
        fields = ["letters_are"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.print_beside("split", "of 100")
        if self.instance.split is not None:
            self.initial["split"] = round(self.instance.split * 100, 1)

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if "split" in given:
            self.instance.split = None if given["split"] is None else given["split"] / 100
        if given.get("mask") is not None:
            self.instance.mask = given["mask"]
        return given


class CandidateForm(WorkshopForm):
    """Two colours: typed or picked, from a tin of ours, or from a photo of a lid."""

    lid = forms.FileField(
        label="Or a photo of the tin's lid",
        required=False,
        widget=forms.FileInput(attrs={"accept": "image/*"}),
        help_text="Fill the middle of it with the letters' colour, out of the sun.",
    )

    class Meta:
        model = Candidate
        fields = ["letters_coating", "letters", "lid", "body", "name"]
        labels = {"letters_coating": "Letters from a tin of ours", "letters": "Or letters by value"}
        widgets = {
            "letters": forms.TextInput(attrs={"list": "colours"}),
            "body": forms.TextInput(attrs={"list": "colours"}),
        }
        help_texts = {
            "letters": "As # and six digits, for example #e6cf8f.",
            "body": "Empty: as it is in the photo.",
            "name": "Empty: as the tin or the value is called.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        tins = Coating.objects.of(self.workshop).filter(retired=False).exclude(colour="")
        self.offer_rows("letters_coating", tins, none="none of them")
        self.fields["letters"].required = self.fields["name"].required = False

    @property
    def colours(self) -> list[tuple[str, str]]:
        """The workshop's own names of colours."""
        rows = Coating.objects.of(self.workshop).filter(retired=False).exclude(colour="")
        return [(tin.colour, tin.colour_name or tin.name) for tin in rows]

    def clean_lid(self) -> str:
        sent: UploadedFile | None = self.cleaned_data["lid"]
        if not sent:
            return ""
        try:
            lid = photograph(sent.read(), settings.PHOTO_MOST_BYTES, settings.PHOTO_MOST_PIXELS)
        except NotAPhoto as refusal:
            raise forms.ValidationError(str(refusal)) from None
        return colour_of_lid(lid.thumbnail)

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        tin: Coating | None = given.get("letters_coating")
        said = [colour for colour in (given.get("letters"), given.get("lid"), tin.colour if tin else "") if colour]
        if not said and not self.errors:
            self.add_error("letters", "Give the letters a colour: from a tin, by value, or from a lid.")
        elif said:
            given["letters"] = said[0].lower()
            known = dict(self.colours)
            tins_name = (tin.colour_name or tin.name) if tin else ""
            given["name"] = (given.get("name") or tins_name or known.get(said[0]) or said[0].lower())[:60]
        return given


class WordingForm(WorkshopForm):
    """Another version of what a nameplate might say."""

    class Meta:
        model = Wording
        fields = ["words", "note"]
        widgets = {"words": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, part: Part, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.part = part

    def clean_words(self) -> str:
        words = "\n".join(line.strip() for line in self.cleaned_data["words"].splitlines() if line.strip())
        line = Wording(words=words).on_one_line
        if len(line) > LONGEST_WORDING:
            raise forms.ValidationError(f"A nameplate has {LONGEST_WORDING} letters at most; these are {len(line)}.")
        if any(row.on_one_line == line for row in self.instance.part.wordings.all()):
            raise forms.ValidationError("This version is there already.")
        return words


class ReplyForm(WorkshopForm):
    """Which one it should be, or what is wrong with all of them."""

    class Meta:
        model = ColourReply
        fields = ["candidate", "words", "name"]
        labels = {"candidate": "Which one", "words": "In words", "name": "Who says so"}
        widgets = {"words": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, try_out: TryOut, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.try_out = try_out
        self.offer_rows("candidate", try_out.candidates.all(), none="none of them yet")

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if not self.errors and not given.get("candidate") and not given.get("words"):
            self.add_error("words", "Say which one, or say it in words.")
        if self.instance.try_out.replies.count() >= MOST_REPLIES:
            self.add_error(None, f"{MOST_REPLIES} answers have been noted here; more are not taken. Please call.")
        return given
