"""Suppliers are asked for prices."""

from collections.abc import Iterable

from django.db import transaction

from projects.record.models import Operation, QuoteRequest, RequestLine, Revision


@transaction.atomic
def ask_for_prices(request: QuoteRequest, lines: Iterable[tuple[Operation, Revision | None]]) -> QuoteRequest:
    request.save()
    RequestLine.objects.bulk_create(
        RequestLine(workshop_id=request.workshop_id, request=request, operation=operation, revision=revision)
        for operation, revision in lines
    )
    return request
