"""What machines cost: every design with what is known of its money."""

from typing import Any

from django.db.models import Count
from django.http import HttpResponse
from django.shortcuts import render

from finishing.access import member
from projects.models import Design


@member("plan")
def costs(request: Any) -> HttpResponse:
    designs = (
        Design.objects.of(request.workshop)
        .filter(hidden=False)
        .annotate(
            part_count=Count("parts", distinct=True),
            operation_count=Count("operations", distinct=True),
            quote_count=Count("operations__quotes", distinct=True),
            order_count=Count("orders", distinct=True),
        )
        .order_by("name")
    )
    return render(request, "projects/costs/costs.html", {"designs": designs})
