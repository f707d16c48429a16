"""Asking a weather service: two more tries where its server fails, an end to silence and to endless answers, and
every failure in words that may be shown to a person."""

from collections.abc import Mapping
from dataclasses import dataclass

import requests
from requests.adapters import HTTPAdapter
from urllib3.util import Retry

from . import WeatherUnavailable

PART = 65_536  # bytes


@dataclass(frozen=True)
class Reply:
    """What came back, whatever its status says."""

    status: int
    headers: Mapping[str, str]
    text: str


def ask(
    service: str,
    url: str,
    query: Mapping[str, str],
    headers: Mapping[str, str],
    *,
    timeout: float,
    largest: int,
) -> Reply:
    """Ask once, and after a refused connection or a server's own failure (500 to 504) twice more; a silence of
    `timeout` seconds is not tried again. WeatherUnavailable says why nothing came."""
    try:
        with _session() as session:
            answer = session.get(url, params=query, headers=headers, timeout=timeout, stream=True)
            return Reply(answer.status_code, answer.headers, _body(service, answer, largest))
    except (requests.RequestException, UnicodeError) as error:
        raise WeatherUnavailable(_in_words(service, error, timeout)) from error


def _session() -> requests.Session:
    # Retry-After may ask for an hour; the caller's next round is the better wait.
    retry = Retry(
        total=2,
        read=False,
        backoff_factor=0.5,
        status_forcelist=(500, 502, 503, 504),
        raise_on_status=False,
        respect_retry_after_header=False,
    )
    session = requests.Session()
    for scheme in ("https://", "http://"):
        session.mount(scheme, HTTPAdapter(max_retries=retry))
    return session


def _body(service: str, answer: requests.Response, largest: int) -> str:
    body = bytearray()
    for part in answer.iter_content(PART):
        body += part
        if len(body) > largest:
            raise WeatherUnavailable(f"{service} sent far more than was asked for.")
    return body.decode("utf-8", errors="replace")


def _in_words(service: str, error: Exception, timeout: float) -> str:
    """Never the error's own words: they hold the address, and with it a key."""
    match error:
        case requests.Timeout():
            return f"{service} did not answer within {timeout:g} seconds."
        case requests.exceptions.SSLError():
            return f"{service} could not be reached safely: its certificate could not be checked."
        case requests.ConnectionError():
            return f"{service} could not be reached: no connection."
    return f"{service} could not be asked, or broke off its answer."
