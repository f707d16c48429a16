"""One page a question, for anybody; the address holds what was asked, so that an answer can be sent to somebody."""

from itertools import groupby
from operator import attrgetter
from urllib.parse import urlencode

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from finishing.calculators.forms import QUESTIONS, Asker
from finishing.workshops.access import VisitorRequest


@require_safe
def calculators(request: VisitorRequest) -> HttpResponse:
    groups = [(name, list(questions)) for name, questions in groupby(QUESTIONS.values(), attrgetter("group"))]
    return render(request, "finishing/calculators/calculators.html", {"groups": groups, "us": _us_units(request)})


@require_safe
def calculator(request: VisitorRequest, name: str) -> HttpResponse:
    if name not in QUESTIONS:
        raise Http404(f"There is no calculator called {name}.")
    us = _us_units(request)
    question = QUESTIONS[name](request.GET, asker=Asker(request.workshop, us))
    template = f"finishing/calculators/{name.replace('-', '_')}.html"
    if request.htmx:
        template = f"{template}#answer" if question.answer else "finishing/calculators/_mend.html"
    context = {
        "question": question,
        "form": question,
        "example": urlencode(question.example | {"units": "us" if us else "metric"}),
        **(question.answer or {}),
        "us": us,
        "units": "us" if us else "metric",
        "other_units": urlencode(question.in_units(not us) | {"units": "metric" if us else "us"}),
    }
    return render(request, template, context)


def _us_units(request: VisitorRequest) -> bool:
    """As the address says, else as the workshop reads them, else metric."""
    asked = request.GET.get("units")
    return asked == "us" if asked in {"us", "metric"} else bool(request.workshop and request.workshop.us_units)
