"""The workshop's own rates as its log tells them, each beside the one it reckons with; taken only when asked for."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from finishing.coatings.models import Layer
from finishing.workshops.access import WorkshopRequest, member
from projects.costs.actions import own_rates as actions
from projects.costs.domain.learned import OwnRate, brushed_layers, operation_rates
from projects.costs.domain.learned import own_rates as learn
from projects.costs.forms.own_rates import ReadForm, TakeForm
from projects.record.models import Operation

BRUSH = "brush_minutes"


@member("plan")
def own_rates(request: WorkshopRequest) -> HttpResponse:
    form = ReadForm(request.GET or None, workshop=request.workshop)
    rates = learn(request.workshop, form.mixing)
    context = {
        "form": form,
        "rates": [(rate, _layers(request, rate)) for rate in rates],
        "of_routes": [(rate, []) for rate in operation_rates(request.workshop)],
    }
    return render(request, "projects/costs/own_rates/own_rates.html", context)


@member("settle")
@require_POST
def take(request: WorkshopRequest, name: str) -> HttpResponse:
    read, form = ReadForm(request.GET or None, workshop=request.workshop), TakeForm(request.POST)
    known = [*learn(request.workshop, read.mixing), *operation_rates(request.workshop)]
    rate = next((one for one in known if one.name == name), None)
    if rate is None:
        raise Http404("No such rate.")
    if rate.offered and form.still(rate):
        _take(request, rate, with_layers=form.cleaned_data["layers"])
        messages.success(request, f"{rate.label.capitalize()} is reckoned with {rate.learned:~P} from now on.")
    else:
        messages.error(request, "The log tells something else by now, so nothing was changed. Look again.")
    return redirect("own-rates")


def _take(request: WorkshopRequest, rate: OwnRate, *, with_layers: bool) -> None:
    if isinstance(rate.row, Operation):
        actions.take_minutes(rate.row, rate.learned, rate.found.count)
    else:
        actions.take_rate(request.workshop, rate.name, rate.learned, _layers(request, rate) if with_layers else [])


def _layers(request: WorkshopRequest, rate: OwnRate) -> list[Layer]:
    """Coats that could take a brushing rate, and have another."""
    if rate.name != BRUSH or not rate.offered:
        return []
    rows = [layer for layer in brushed_layers(request.workshop) if not layer.system.from_library]
    return [layer for layer in rows if layer.minutes != rate.learned]
