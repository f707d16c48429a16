"""Signing in, and making an account."""

from django.contrib.auth.forms import AuthenticationForm


class SignInForm(AuthenticationForm):
    error_messages = {
        **AuthenticationForm.error_messages,
        "invalid_login": "This name and password do not belong together. Both mind capital letters.",
    }
