"""A logger's file in which every line is wrong, against one in which every line is right: each wrong line is told."""

from finishing.weather.logger import parse_logger

from .sixteen_days import timed

HEADING = "Time,Temperature (°C),Humidity (%)\n"
LINES = 2000


def test_wrong_lines_take_little_longer_than_right_ones():
    wrong = "".join(f"2026-05-01 10:00,{1000 + n},60\n" for n in range(LINES))
    right = "".join(f"2026-{5 + n // 1440:02}-01 {n // 60 % 24:02}:{n % 60:02},16,60\n" for n in range(LINES))
    (told, slow), (read, quick) = (timed(lambda text=text: of(text)) for text in (wrong, right))
    assert (len(told.bad_lines), len(read.bad_lines)) == (LINES, 0)
    print(f"\nfigure logger.wrong_lines.slowdown {slow / quick:.1f} x")


def of(text):
    return parse_logger((HEADING + text).encode(), "UTC")
