"""Hears a sensor of the workshop, and keeps no more of it than an answer can use."""

from datetime import datetime, timedelta

from django.core.cache import cache
from django.db import IntegrityError, transaction

from finishing.air.models import Reading, Sensor

APART = timedelta(minutes=5)  # air does not change faster, and each reading is reckoned with
MOST_A_MINUTE = 30  # posts of one sensor that are looked at


def too_many(sensor: Sensor) -> bool:
    """More posts within a minute than any sensor needs."""
    key = f"sensor:{sensor.pk}"
    cache.add(key, 0, 60)
    try:
        return cache.incr(key) > MOST_A_MINUTE
    except ValueError:  # the minute was just over
        return False


def keep(sensor: Sensor, reading: Reading, now: datetime) -> bool:
    """Keep what a sensor read, unless it has just been heard; whether it was kept."""
    with transaction.atomic():
        heard = Sensor.objects.select_for_update().get(pk=sensor.pk)
        near = Reading.objects.of(sensor.workshop).filter(place=sensor.place, source=sensor.source)
        if near.filter(taken_at__gt=reading.taken_at - APART, taken_at__lt=reading.taken_at + APART).exists():
            return False
        reading.place, reading.source, reading.workshop = sensor.place, sensor.source, sensor.workshop
        try:
            with transaction.atomic():
                reading.save(force_insert=True)
        except IntegrityError:
            return False
        heard.heard_at = now
        heard.save(update_fields=["heard_at"])
    return True


def close(sensor: Sensor) -> None:
    """Nothing is taken from it any more; what it read stays."""
    sensor.closed = True
    sensor.save(update_fields=["closed"])
