"""The workshop's own rates as its log tells them, each beside the one it reckons with; taken only when asked for."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from finishing.coatings.models import Layer
from finishing.workshops.access import WorkshopRequest, member
from projects.costs.actions import own_rates as actions
from projects.costs.domain import own_rates as domain
from projects.costs.domain.own_rates import OwnRate
from projects.costs.forms.own_rates import ReadForm, TakeForm
from projects.record.models import Operation

BRUSH = "brush_minutes"


@member("plan")
def own_rates(request: WorkshopRequest) -> HttpResponse:
    form = ReadForm(request.GET or None, workshop=request.workshop)
    rates = domain.own_rates(request.workshop, form.mixing)
    context = {
        "form": form,
        "rates": [(rate, _layers(request, rate)) for rate in rates],
        "of_routes": [(rate, []) for rate in domain.operation_rates(request.workshop)],
    }
    return render(request, "projects/costs/own_rates/own_rates.html", context)


@member("settle")
@require_POST
def take(request: WorkshopRequest, name: str) -> HttpResponse:
    read, form = ReadForm(request.GET or None, workshop=request.workshop), TakeForm(request.POST)
    known = [*domain.own_rates(request.workshop, read.mixing), *domain.operation_rates(request.workshop)]
    rate = next((one for one in known if one.name == name), None)
    if rate is None:
        raise Http404("No such rate.")
    if rate.offered and form.still(rate):
        if isinstance(rate.row, Operation):
            actions.take_minutes(rate.row, rate.learned, len(rate.figures))
        else:
            layers = _layers(request, rate) if form.cleaned_data["layers"] else []
            actions.take_rate(request.workshop, rate.name, rate.learned, layers)
        messages.success(request, f"{rate.label.capitalize()} is reckoned with {rate.learned:~P} from now on.")
    else:
        messages.error(request, "The log tells something else by now, so nothing was changed. Look again.")
    return redirect("own-rates")


def _layers(request: WorkshopRequest, rate: OwnRate) -> list[Layer]:
    """Coats that could take a brushing rate, and have another."""
    if rate.name != BRUSH or not rate.offered:
        return []
    rows = [layer for layer in domain.brushed_layers(request.workshop) if not layer.system.from_library]
    return [layer for layer in rows if layer.minutes != rate.learned]
