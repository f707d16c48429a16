from typing import Any

from django.apps import AppConfig
from django.contrib.auth.signals import user_logged_in, user_logged_out, user_login_failed
from django.db.backends.signals import connection_created


class FinishingConfig(AppConfig):
    name = "finishing"
    verbose_name = "Finishing"

    def ready(self) -> None:
        from finishing.site.editions import watch

        connection_created.connect(watch)
        user_logged_in.connect(signed_in)
        user_logged_out.connect(signed_out)
        user_login_failed.connect(refused)


def signed_in(request: Any, user: Any, **kwargs: object) -> None:
    from finishing.workshops.actions.audit import note_sign_in

    note_sign_in(request, user)


def signed_out(request: Any, user: Any, **kwargs: object) -> None:
    from finishing.workshops.actions.audit import note_sign_out

    if user is not None:
        note_sign_out(request, user)


def refused(credentials: Any, request: Any = None, **kwargs: object) -> None:
    from finishing.workshops.actions.audit import note_refused

    note_refused(request, str(credentials.get("username", "")))
