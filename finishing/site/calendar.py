"""UTC hours as a workshop's clock shows them, whole years at once."""

from datetime import UTC, datetime, timedelta, tzinfo

import numpy as np

DAY = np.timedelta64(1, "D")
WEEKS = 52
CLOCKS_DIFFER = timedelta(minutes=5)  # of phones, a little: what is later than that lies ahead
GRACE = timedelta(days=30)  # so long may what was deleted be put back


def on_clock(times: np.ndarray, zone: tzinfo) -> np.ndarray:
    """Each instant (UTC, datetime64) as that clock shows it, to the minute.

    A zone is asked once a day, and hour by hour only on days in which its clocks are moved.
    """
    days, which = np.unique(times.astype("datetime64[D]"), return_inverse=True)
    begins, ends = _offsets(days, zone), _offsets(days + DAY, zone)
    offsets = begins[which]
    moved = (begins != ends)[which]
    offsets[moved] = _offsets(times[moved], zone)
    return times.astype("datetime64[m]") + offsets


def week_of_year(times: np.ndarray, zone: tzinfo) -> np.ndarray:
    """0 to 51, counted from 1 January of that clock; the last week takes the days that are over."""
    days = on_clock(times, zone).astype("datetime64[D]")
    return np.minimum((days - days.astype("datetime64[Y]")) // (7 * DAY), WEEKS - 1)


def _offsets(times: np.ndarray, zone: tzinfo) -> np.ndarray:
    moments: list[datetime] = times.astype("datetime64[s]").tolist()
    offsets = [moment.replace(tzinfo=UTC).astimezone(zone).utcoffset() for moment in moments]
    return np.array(offsets, dtype="timedelta64[m]")
