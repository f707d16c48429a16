"""The first start: by a one-time link an owner makes an account and a workshop with the starting library."""

from django.http import HttpResponse
from django.shortcuts import render

from finishing.library.actions import begin_workshop
from finishing.workshops.access import VisitorRequest
from finishing.workshops.actions.workshops import LinkSpent
from finishing.workshops.forms.accounts import BeginForm
from finishing.workshops.views.accounts import account_form, enter, link_spent, person, usable


def first_start(request: VisitorRequest, token: str) -> HttpResponse:
    """The one-time link: an account, unless somebody is signed in, and a workshop."""
    invitation = usable(token, first=True)
    if invitation is None:
        return link_spent(request)
    account, form = account_form(request), BeginForm(request.POST or None)
    if request.method == "POST" and all([form.is_valid(), account is None or account.is_valid()]):
        owner = person(request, account)
        try:
            return enter(request, begin_workshop(invitation=invitation, owner=owner, workshop=form.instance))
        except LinkSpent:
            return link_spent(request)
    return render(request, "finishing/library/first_start.html", {"account": account, "form": form})
