"""One page a question, for anybody; the address holds what was asked, so that an answer can be sent to somebody."""

from itertools import groupby
from typing import Any
from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from finishing.calculators.forms import QUESTIONS, Asker, Question
from finishing.workshops.access import VisitorRequest


@require_safe
def calculators(request: HttpRequest) -> HttpResponse:
    groups = [(name, list(questions)) for name, questions in groupby(QUESTIONS.values(), lambda one: one.group)]
    return render(request, "finishing/calculators/calculators.html", {"groups": groups, **_units(request)})


@require_safe
def calculator(request: HttpRequest, name: str) -> HttpResponse:
    if name not in QUESTIONS:
        raise Http404(f"There is no calculator called {name}.")
    units = _units(request)
    question = QUESTIONS[name](request.GET, asker=Asker(request.workshop, units["us"]))
    template = f"finishing/calculators/{name.replace('-', '_')}.html"
    if request.htmx:
        template = f"{template}#answer" if question.answer else "finishing/calculators/_mend.html"
    context = {
        "question": question,
        "form": question,
        **(question.answer or {}),
        **units,
        "other_units": urlencode(_otherwise(question, units)),
    }
    return render(request, template, context)


def _units(request: VisitorRequest) -> dict[str, Any]:
    """As the address says, else as the workshop reads them, else metric."""
    asked = request.GET.get("units")
    workshop = request.workshop
    us = asked == "us" if asked in {"us", "metric"} else bool(workshop and workshop.us_units)
    return {"us": us, "units": "us" if us else "metric"}


def _otherwise(question: Question, units: dict[str, Any]) -> dict[str, str]:
    """The same question in the other system of units."""
    return question.in_units(not units["us"]) | {"units": "metric" if units["us"] else "us"}
