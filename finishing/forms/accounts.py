"""Signing in, making an account, and the first words about a workshop."""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm, UserCreationForm

from finishing.models import User, Workshop

from .base import DegreesField


class SignInForm(AuthenticationForm):
    error_messages = {
        **AuthenticationForm.error_messages,
        "invalid_login": "This name and password do not belong together. Both mind capital letters.",
    }

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Name to sign in with"


class AccountForm(UserCreationForm):
    class Meta:
        model = User
        fields = ("first_name", "username")
        labels = {"first_name": "Your name", "username": "Name to sign in with"}
        help_texts = {"first_name": "As it stands beside your entries in the log.", "username": ""}

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["first_name"].required = True
        self.fields["first_name"].widget.attrs["autocomplete"] = "name"
        self.fields["username"].widget.attrs.pop("autofocus", None)
        self.fields["password1"].help_text = "At least eight characters, not only digits."
        self.fields["password2"].label = "Password again"
        self.fields["password2"].help_text = ""


class BeginForm(forms.ModelForm):
    """What a workshop needs before its weather can be asked for."""

    latitude = DegreesField(90, letters="NS", help_text="North is positive: 52.4, or 33.9 S.")
    longitude = DegreesField(180, letters="EW", help_text="East is positive: -1.9, or 1.9 W.")

    class Meta:
        model = Workshop
        fields = ("name", "latitude", "longitude", "time_zone", "units", "currency")
        labels = {"name": "Workshop's name"}
        help_texts = {"time_zone": "As Europe/London or America/New_York."}
        widgets = {"time_zone": forms.TextInput(attrs={"list": "time-zones", "data-guess-zone": ""})}

    def clean_currency(self) -> str:
        return currency_code(self.cleaned_data["currency"])


def currency_code(text: str) -> str:
    if not (len(text) == 3 and text.isascii() and text.isalpha()):
        raise forms.ValidationError("Three letters, as EUR, GBP or USD.")
    return text.upper()
