"""The owner's page of mail: by which server, to whom, about what; and a test."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from finishing.workshops.access import WorkshopRequest, member
from projects.record.models import MailReader, MailServer
from projects.telling.actions import sealed, send_test
from projects.telling.forms import MailReaderForm, MailServerForm, MailTestForm


@member("settle")
def mail(request: WorkshopRequest) -> HttpResponse:
    server = _server(request)
    form = MailServerForm(request.POST or None, instance=server or MailServer(workshop=request.workshop))
    if request.method == "POST" and form.is_valid():
        row = form.save(commit=False)
        row.trouble = ""
        if form.cleaned_data["new_password"]:
            row.password = sealed(form.cleaned_data["new_password"])
        row.save()
        messages.success(request, "The mail server is kept." if row.on else "Kept; no mail is sent until it is on.")
        return redirect("mail")
    return _page(request, form, MailReaderForm(workshop=request.workshop), MailTestForm(auto_id="test-%s"))


def _server(request: WorkshopRequest) -> MailServer | None:
    return MailServer.objects.of(request.workshop).select_related("workshop").first()


def _page(
    request: WorkshopRequest, form: MailServerForm, reader_form: MailReaderForm, test_form: MailTestForm
) -> HttpResponse:
    context = {
        "form": form,
        "reader_form": reader_form,
        "test_form": test_form,
        "server": _server(request),
        "readers": MailReader.objects.of(request.workshop),
    }
    return render(request, "projects/telling/mail.html", context)


def _server_form(request: WorkshopRequest) -> MailServerForm:
    return MailServerForm(instance=_server(request) or MailServer(workshop=request.workshop))


@require_POST
@member("settle")
def reader_new(request: WorkshopRequest) -> HttpResponse:
    form = MailReaderForm(request.POST, workshop=request.workshop)
    if not form.is_valid():
        return _page(request, _server_form(request), form, MailTestForm(auto_id="test-%s"))
    form.save()
    return redirect("mail")


@require_POST
@member("settle")
def reader_remove(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    get_object_or_404(MailReader.objects.of(request.workshop), pk=pk).delete()
    return redirect("mail")


@require_POST
@member("settle")
def test(request: WorkshopRequest) -> HttpResponse:
    """Sent at once, so that what is wrong is told at once."""
    server, form = _server(request), MailTestForm(request.POST, auto_id="test-%s")
    if server is None:
        messages.error(request, "Keep a server first.")
        return redirect("mail")
    if not form.is_valid():
        return _page(request, _server_form(request), MailReaderForm(workshop=request.workshop), form)
    if trouble := send_test(server, form.cleaned_data["to"]):
        messages.error(request, f"It was not sent. {trouble}")
    else:
        messages.success(request, f"Sent to {form.cleaned_data['to']}.")
    return redirect("mail")
