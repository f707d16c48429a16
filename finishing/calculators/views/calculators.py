"""One page a question, for anybody; the address holds what was asked, so that an answer can be sent to somebody."""

from itertools import groupby
from operator import attrgetter
from urllib.parse import urlencode

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from finishing.calculators.forms import QUESTIONS, Asker
from finishing.site.fields import IMPERIAL, METRIC, SHOWN_UNITS, US
from finishing.workshops.access import VisitorRequest

WORDS = {METRIC: "metric", US: "US", IMPERIAL: "imperial"}


@require_safe
def calculators(request: VisitorRequest) -> HttpResponse:
    groups = [(name, list(questions)) for name, questions in groupby(QUESTIONS.values(), attrgetter("group"))]
    measures = _measures(request)
    return render(
        request,
        "finishing/calculators/calculators.html",
        {"groups": groups, "measures": measures, "others": _others(measures)},
    )


@require_safe
def calculator(request: VisitorRequest, name: str) -> HttpResponse:
    if name not in QUESTIONS:
        raise Http404(f"There is no calculator called {name}.")
    measures = _measures(request)
    question = QUESTIONS[name](request.GET, asker=Asker(request.workshop, measures))
    template = f"finishing/calculators/{name.replace('-', '_')}.html"
    if request.htmx:
        template = f"{template}#answer" if question.answer else "finishing/calculators/_mend.html"
    context = {
        "question": question,
        "form": question,
        "example": urlencode(question.example | {"units": measures}),
        **(question.answer or {}),
        "measures": measures,
        "others": [(urlencode(question.in_units(other) | {"units": other}), word) for other, word in _others(measures)],
    }
    return render(request, template, context)


def _measures(request: VisitorRequest) -> str:
    """As the address says, else as the workshop reads them, else metric."""
    asked = request.GET.get("units", "")
    if asked in SHOWN_UNITS:
        return asked
    return request.workshop.units if request.workshop else METRIC


def _others(measures: str) -> list[tuple[str, str]]:
    """The other measures, each with its word."""
    return [(other, word) for other, word in WORDS.items() if other != measures]
