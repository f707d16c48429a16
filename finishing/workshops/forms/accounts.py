"""Signing in, making an account, and the first words about a workshop."""

from datetime import timedelta
from math import ceil
from typing import Any

from django import forms
from django.contrib.admin.forms import AdminAuthenticationForm
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm, SetPasswordForm, UserCreationForm
from django.utils import timezone

from finishing.workshops.access import known_device
from finishing.workshops.actions.one_time_codes import try_code
from finishing.workshops.actions.sign_ins import (
    forget_failed_old_passwords,
    forget_failed_sign_ins,
    try_old_password,
    try_sign_in,
)
from finishing.workshops.domain.towns import largest_town_of
from finishing.workshops.models import OneTimeCodes, User, Workshop
from finishing.workshops.models.workshops import time_zones

from .fields import WhereField

PASSWORD_ASKS = "At least eight characters, not only digits, and none of the common ones."  # pragma: allowlist secret


class PatientForm(AuthenticationForm):
    """Asks to wait after several wrong passwords, before it looks at another."""

    def clean(self) -> dict[str, Any]:
        name, password = (self.cleaned_data.get(box) for box in ("username", "password"))
        if not (name and password):
            return self.cleaned_data  # the empty box says so
        address = self.request.META.get("REMOTE_ADDR", "") if self.request else ""
        device = known_device(self.request, name) if self.request else ""
        if wait := try_sign_in(name, address, device, timezone.now()):
            raise _please_wait(wait, "Too many wrong passwords for this name, or from this device.")
        cleaned = super().clean()
        forget_failed_sign_ins(name, address, device)
        return cleaned


def _please_wait(wait: timedelta, why: str) -> forms.ValidationError:
    minutes = max(1, ceil(wait / timedelta(minutes=1)))
    return forms.ValidationError(
        f"{why} Wait {minutes} minute{'s' * (minutes > 1)}, "
        "then try again; until then even the right one is not looked at.",
        code="wait",
    )


class StaffSignInForm(PatientForm, AdminAuthenticationForm):
    """The same patience at the door of the back room. It asks for no code: who has them comes by the front door."""

    def confirm_login_allowed(self, user: User) -> None:
        super().confirm_login_allowed(user)
        if OneTimeCodes.objects.filter(user=user).exists():
            raise forms.ValidationError("This account has one-time codes: sign in on the site's own page first.")


class SignInForm(PatientForm):
    error_messages = {
        **AuthenticationForm.error_messages,
        "invalid_login": "This name and password do not belong together. Both mind capital letters.",
    }

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Name to sign in with"


class CodeForm(forms.Form):
    """A code from the phone, or a recovery code."""

    code = forms.CharField(
        label="One-time code",
        max_length=40,
        help_text="The six digits that your app shows now, or one of your recovery codes.",
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "autofocus": ""}),
    )

    def __init__(self, *args: Any, user: User, device: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user, self.device = user, device

    def clean_code(self) -> str:
        code: str = self.cleaned_data["code"]
        wait = try_code(self.user, code, self.device, timezone.now())
        if wait:
            raise _please_wait(wait, "Too many wrong codes.")
        if wait is not None:
            raise forms.ValidationError(
                "This is not the code of this moment. Each works once; is the phone's clock right?"
            )
        return code


class FirstCodeForm(forms.Form):
    """The first code of a phone that has just learned the secret."""

    code = forms.CharField(
        label="The six digits that it shows now",
        max_length=10,
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "numeric"}),
    )

    def clean_code(self) -> str:
        return "".join(self.cleaned_data["code"].split())


class OwnPasswordForm(PasswordChangeForm):
    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["new_password1"].help_text = PASSWORD_ASKS
        self.fields["new_password2"].label = "New password again"
        self.fields["new_password2"].help_text = ""

    def clean_old_password(self) -> str:
        name = self.user.get_username()
        if wait := try_old_password(name, timezone.now()):
            raise _please_wait(wait, "Too many wrong passwords.")
        old = super().clean_old_password()
        forget_failed_old_passwords(name)
        return old


class NewPasswordForm(SetPasswordForm):
    """Without the old one: whoever has the link may choose."""

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.fields["new_password1"].help_text = PASSWORD_ASKS
        self.fields["new_password2"].label = "New password again"
        self.fields["new_password2"].help_text = ""


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
        self.fields["password1"].help_text = PASSWORD_ASKS
        self.fields["password2"].label = "Password again"
        self.fields["password2"].help_text = ""


class BeginForm(forms.ModelForm):
    """A name and where it stands; units, money and clock follow from the place, and can be changed in the settings."""

    where = WhereField(
        required=False,
        help_text="The nearest town, or coordinates as 52.4, −1.9 or 52°24′ N 1°54′ W. It decides the weather; leave it"
        " empty to say it later.",
    )
    time_zone = forms.CharField(required=False, widget=forms.HiddenInput(attrs={"data-guess-zone": ""}))

    class Meta:
        model = Workshop
        fields = ("name",)
        labels = {"name": "Workshop's name"}

    def clean(self) -> dict[str, Any]:
        super().clean()
        somewhere, guessed = self.cleaned_data.get("where"), self.cleaned_data.get("time_zone", "")
        if somewhere:
            self.instance.latitude, self.instance.longitude = somewhere.latitude, somewhere.longitude
        else:
            self.instance.placed, self.instance.weather_service = False, Workshop.WeatherService.NONE
        if town := somewhere.town if somewhere else largest_town_of(guessed):
            self.instance.time_zone, self.instance.currency = town.time_zone, town.currency
            self.instance.units = Workshop.Units.US if town.us_units else Workshop.Units.METRIC
        elif guessed in time_zones():
            self.instance.time_zone = guessed
        return self.cleaned_data
