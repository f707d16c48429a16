"""Sensors that send their readings by themselves: named and closed by a person, heard at an address of their own."""

import json
from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST

from finishing.air.actions import sensors as actions
from finishing.air.forms.sensors import SensorForm, SentForm
from finishing.air.models import Sensor
from finishing.workshops.access import VisitorRequest, WorkshopRequest, by_address, member

LONGEST = 4_096  # bytes of one post
NOT_READ = "Send JSON, or a form post, with temperature in °C and humidity in %."


@member("plan")
def sensors(request: WorkshopRequest) -> HttpResponse:
    form = SensorForm(request.POST or None, workshop=request.workshop)
    if request.method == "POST" and form.is_valid():
        if not form.repeated:
            form.save()
        messages.success(request, f"{form.instance} may send now: its address stands below.")
        return redirect("sensors")
    rows = Sensor.objects.of(request.workshop).select_related("place")
    known = [(row, request.build_absolute_uri(reverse("sensor-hear", args=[row.token]))) for row in rows]
    return render(request, "finishing/air/sensors/sensors.html", {"form": form, "sensors": known})


@require_POST
@member("plan")
def close(request: WorkshopRequest, pk: UUID) -> HttpResponse:
    sensor = get_object_or_404(Sensor.objects.of(request.workshop).in_use(), pk=pk)
    actions.close(sensor)
    messages.success(request, f"Closed: nothing more is taken from {sensor}. What it read stays.")
    return redirect("sensors")


@csrf_exempt
@require_POST
@by_address(Sensor)
def hear(request: VisitorRequest, sensor: Sensor) -> HttpResponse:
    """One reading from whoever holds the address, in JSON or as a form post."""
    if actions.too_many(sensor):
        return JsonResponse({"errors": {"": ["Too often: once in five minutes is enough."]}}, status=429)
    sent = _sent(request)
    if sent is None:
        return JsonResponse({"errors": {"": [NOT_READ]}}, status=400)
    now = timezone.now()
    form = SentForm(sent, workshop=sensor.workshop, now=now)
    if not form.is_valid():
        return JsonResponse({"errors": {name: list(told) for name, told in form.errors.items()}}, status=422)
    kept = actions.keep(sensor, form.instance, now)
    return JsonResponse({"kept": kept}, status=201 if kept else 200)


def _sent(request: VisitorRequest) -> Mapping[str, Any] | None:
    """What stands in the post, by name; None where it cannot be read."""
    if int(request.headers.get("Content-Length") or 0) > LONGEST:
        return None
    if request.content_type != "application/json":
        return request.POST.dict()
    try:
        sent = json.loads(request.body)
    except (ValueError, RecursionError):
        return None
    plain = isinstance(sent, dict) and all(isinstance(value, str | int | float | None) for value in sent.values())
    return {name: None if value is None else str(value) for name, value in sent.items()} if plain else None
