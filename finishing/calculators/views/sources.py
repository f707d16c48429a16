"""Every work cited, for anybody who asks where a number comes from."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from finishing.science.cautions import CAUTIONS
from finishing.science.sources import SOURCES


@require_safe
def sources(request: HttpRequest) -> HttpResponse:
    works = sorted(SOURCES.values(), key=lambda work: work.key.lower())
    return render(request, "finishing/calculators/sources/sources.html", {"works": works, "cautions": CAUTIONS})
