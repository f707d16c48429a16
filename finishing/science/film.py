"""Wet and dry film, spreading rate, what the profile swallows and the gun loses, and the litres for an area.

Volume solids, thinning and loss are shares in percent: thinning is thinner per paint, loss is the share of the paint
used that never becomes film. Thinner leaves the film: the wet film gets thicker, a litre from the tin no richer.
Sources disagree about losses, so a loss is a `Range` and so are the litres that follow from it.
"""

from dataclasses import dataclass
from statistics import fmean, stdev
from typing import Any

from .sources import OUR_JUDGEMENT
from .surface import LEAST_AREA, MOST_AREA, Range
from .units import Quantity, units
from .validity import within
from .working import Working

MOST_LOSS = 95.0  # %
NO_THINNING = Quantity(0, "percent")
NO_DEAD_FILM = Quantity(0, "µm")


def _check_solids(volume_solids: Any, thinning: Any = 0) -> None:
    within("volume solids", volume_solids, 0.1, 100, "%", OUR_JUDGEMENT)
    within("thinning", thinning, 0, 300, "%", OUR_JUDGEMENT)


def _check_film(name: str, film: Any) -> None:
    within(name, film, 1, 5000, "µm", OUR_JUDGEMENT)


@units.wraps("percent", ("percent", "percent"))
def thinned_solids(volume_solids: Any, thinning: Any) -> Any:
    """Volume solids of what is in the pot after thinning.   VS' = VS·100/(100 + thinning)

    Valid for 0 < VS ≤ 100 % and thinning of 0 to 300 %.      Source: [SPREADING-RATE-WORKED].

    >>> f"{thinned_solids(Quantity(50, 'percent'), Quantity(10, 'percent')):.2f~P}"
    '45.45 %'
    """
    _check_solids(volume_solids, thinning)
    return volume_solids * 100 / (100 + thinning)


@units.wraps("µm", ("µm", "percent", "percent"))
def wet_film_from_dry_film(dry_film: Any, volume_solids: Any, thinning: Any = NO_THINNING) -> Any:
    """What the comb must read for this dry film.   WFT = DFT·(100 + thinning)/VS

    Valid for 1 to 5000 µm.      Source: [SPREADING-RATE-WORKED].

    >>> f"{wet_film_from_dry_film(Quantity(40, 'µm'), Quantity(45, 'percent'), Quantity(10, 'percent')):.1f~P}"
    '97.8 µm'
    """
    _check_film("dry film", dry_film)
    return dry_film * 100 / thinned_solids.__wrapped__(volume_solids, thinning)


@units.wraps("µm", ("µm", "percent", "percent"))
def dry_film_from_wet_film(wet_film: Any, volume_solids: Any, thinning: Any = NO_THINNING) -> Any:
    """What stays of a wet film when solvent and thinner have left.   DFT = WFT·VS/(100 + thinning)

    Valid for 1 to 5000 µm.      Source: [SPREADING-RATE-WORKED].

    >>> f"{dry_film_from_wet_film(Quantity(100, 'µm'), Quantity(45, 'percent'), Quantity(10, 'percent')):.1f~P}"
    '40.9 µm'
    """
    _check_film("wet film", wet_film)
    return wet_film * thinned_solids.__wrapped__(volume_solids, thinning) / 100


@units.wraps("m**2/L", ("percent", "µm"))
def spreading_rate(volume_solids: Any, dry_film: Any) -> Any:
    """Theoretical spreading rate: nothing lost, nothing swallowed.   r = 10·VS/DFT

    With the solids of the tin it is per litre of paint, with `thinned_solids` per litre in the pot.
    Source: [SPREADING-RATE]; in US units ft²/gal = 1604·VS/DFT, [SPREADING-RATE-US].

    >>> rate = spreading_rate(Quantity(65, "percent"), Quantity(125, "µm"))
    >>> f"{rate:.1f~P} = {rate.to('ft**2/gallon'):.0f~P}"
    '5.2 m²/L = 212 ft²/gal'
    """
    _check_solids(volume_solids)
    _check_film("dry film", dry_film)
    return 10 * volume_solids / dry_film


@units.wraps("m**2/L", ("m**2/L", "percent"))
def practical_spreading_rate(spreading_rate: Any, loss: Any) -> Any:
    """Spreading rate when a share of the paint is lost on the way.   r' = r·(1 − loss)

    Source: [SPREADING-RATE].

    >>> f"{practical_spreading_rate(Quantity(7.576, 'm**2/L'), Quantity(30, 'percent')):.3f~P}"
    '5.303 m²/L'
    """
    within("spreading rate", spreading_rate, 1e-3, 1e4, "m²/L", OUR_JUDGEMENT)
    within("loss", loss, 0, MOST_LOSS, "%", OUR_JUDGEMENT)
    return spreading_rate * (1 - loss / 100)


LEAST_DEAD_SHARE, DEAD_SHARE, MOST_DEAD_SHARE = (Quantity(share, "percent") for share in (33.0, 50.0, 100.0))


@units.wraps("µm", ("µm", "percent"))
def dead_film(profile: Any, share: Any = DEAD_SHARE) -> Any:
    """Dry film that only fills the valleys of a blasted profile: the first coat pays it.   D₁ = share·Rz

    Manuals say ⅔ [DEAD-VOLUME], a note 10 µm below 50 µm of profile and 35 µm below 100 [PROFILE-LOSS], a maker all
    of it: so half by default, and 33 to 100 % may be said.      Source: [our judgement].

    >>> f"{dead_film(Quantity(60, 'µm')):.0f~P}"
    '30 µm'
    """
    within("profile", profile, 0, 300, "µm", "PROFILE-LOSS")
    within("share of the profile", share, 33, 100, "%", OUR_JUDGEMENT)
    return profile * share / 100


def dead_film_range(profile: Any) -> Range:
    """The dead film as far as the sources disagree.

    >>> film = dead_film_range(Quantity(60, "µm"))
    >>> f"{film.low:.0f~P} to {film.high:.0f~P}"
    '20 µm to 60 µm'
    """
    return Range(*(dead_film(profile, share) for share in (LEAST_DEAD_SHARE, DEAD_SHARE, MOST_DEAD_SHARE)))


def _percent(low: float, likely: float, high: float) -> Range:
    return Range(*(Quantity(share, "percent") for share in (low, likely, high)))


@dataclass(frozen=True)
class Method:
    """A way to put paint on: the share lost, and whether it flies through the air."""

    loss: Range
    sprayed: bool
    source: str


# Likely values are the default of the trade's job figures; high ends reach what transfer efficiencies imply.
METHODS = {
    "brush": Method(_percent(5, 10, 15), False, "COVERAGE"),
    "roller": Method(_percent(5, 10, 15), False, "COVERAGE"),
    "airless": Method(_percent(30, 35, 60), True, "TRANSFER-EFFICIENCY"),
    "air-assisted airless": Method(_percent(20, 30, 40), True, "TRANSFER-EFFICIENCY"),
    "HVLP": Method(_percent(35, 40, 50), True, "TRANSFER-EFFICIENCY"),
    "conventional gun on frames": Method(_percent(50, 55, 80), True, "TRANSFER-EFFICIENCY"),
    "conventional gun on panels": Method(_percent(30, 45, 70), True, "GUN-EFFICIENCY"),
}
OUTDOORS = _percent(5, 10, 30)  # wind, on what is sprayed   [COVERAGE]
SPOKED = _percent(5, 5, 10)  # an uneven, open shape   [COVERAGE]
LEFT_IN_TIN = Quantity(5, "percent")  # brush and roller   [common practice]
LEFT_IN_GUN = Range(Quantity(0.1, "L"), Quantity(0.2, "L"), Quantity(0.3, "L"))  # each colour   [common practice]


def loss_of(method: str, *, outdoors: bool = False, spoked: bool = False) -> Range:
    """Share of the paint used that never becomes film, as low, likely, high; extras add, up to 95 %.

    Source: [COVERAGE], [TRANSFER-EFFICIENCY], [GUN-EFFICIENCY], which disagree.

    >>> loss = loss_of("brush", spoked=True)
    >>> f"{loss.low:.0f~P} to {loss.high:.0f~P}, likely {loss.likely:.0f~P}"
    '10 % to 25 %, likely 15 %'
    """
    used = METHODS[method]
    loss = used.loss
    if spoked:
        loss += SPOKED
    if outdoors and used.sprayed:  # the wind takes a mist, not what a brush carries
        loss += OUTDOORS
    most = Quantity(MOST_LOSS, "percent")
    return Range(min(loss.low, most), min(loss.likely, most), min(loss.high, most))


def left_behind(method: str, paint: Any) -> Range:
    """Paint that stays in tin, pot, hose and gun, once a colour.      Source: [common practice].

    >>> f"{left_behind('brush', Quantity(2, 'L')).likely:.1f~P}, {left_behind('HVLP', Quantity(2, 'L')).likely:.1f~P}"
    '0.1 L, 0.2 L'
    """
    return LEFT_IN_GUN if METHODS[method].sprayed else Range.of((paint * LEFT_IN_TIN).to("L"))


@units.wraps("L", ("m**2", "µm", "percent", "percent"))
def paint_volume(area: Any, dry_film: Any, volume_solids: Any, loss: Any) -> Any:
    """Paint from the tin that leaves this dry film on this area.   V = A·DFT/(10·VS)/(1 − loss)

    Thinner comes on top and changes nothing here.      Source: [SPREADING-RATE].

    >>> f"{paint_volume('4.2 m**2', '40 µm', Quantity(45, 'percent'), Quantity(10, 'percent')):.3f~P}"
    '0.415 L'
    """
    within("area", area, LEAST_AREA, MOST_AREA, "m²", OUR_JUDGEMENT)
    _check_film("dry film", dry_film)
    _check_solids(volume_solids)
    within("loss", loss, 0, MOST_LOSS, "%", OUR_JUDGEMENT)
    return area * dry_film / (10 * volume_solids) / (1 - loss / 100)


def paint_for_area(
    area: Any, dry_film: Any, volume_solids: Any, loss: Any, *, coats: int = 1, dead_film: Any = NO_DEAD_FILM
) -> Range:
    """Litres from the tin for all coats of one paint, as low, likely, high.   V = A·(n·DFT + D₁)/(10·VS)/(1 − loss)

    Area, loss and dead film may be known to a point or as a `Range`. Dead film belongs to the first coat on a blasted
    profile and is paid once.      Source: [SPREADING-RATE].

    >>> litres = paint_for_area(
    ...     Quantity(4.2, "m**2"), Quantity(40, "µm"), Quantity(45, "percent"), loss_of("brush"), coats=2
    ... )
    >>> f"{litres.low:.2f~P} to {litres.high:.2f~P}, likely {litres.likely:.2f~P}"
    '0.79 L to 0.88 L, likely 0.83 L'
    """
    within("coats", coats, 1, 20, "coats", OUR_JUDGEMENT)
    painted, lost, dead = Range.of(area), Range.of(loss), Range.of(dead_film)
    return Range(
        paint_volume(painted.low, coats * dry_film + dead.low, volume_solids, lost.low),
        paint_volume(painted.likely, coats * dry_film + dead.likely, volume_solids, lost.likely),
        paint_volume(painted.high, coats * dry_film + dead.high, volume_solids, lost.high),
    )


GAUGE_CORRECTIONS = {"fine": 10.0, "medium": 25.0, "coarse": 40.0, "not known": 25.0}  # µm   [ISO-19840]
COARSER_FROM = {"fine": 0.0, "medium": 60.0, "coarse": 100.0, "not known": 150.0}  # µm of Rz, grit   [ISO-8503]


def grade_of(profile: float | None) -> str:
    """The comparator's grade of a grit-blasted profile, in µm of Rz; coarser than the comparator is not known.

    Source: [ISO-8503].

    >>> grade_of(55.0), grade_of(75.0), grade_of(None)
    ('fine', 'medium', 'not known')
    """
    if profile is None:
        return "not known"
    return max((grade for grade, low in COARSER_FROM.items() if low <= profile), key=lambda grade: COARSER_FROM[grade])


@dataclass(frozen=True)
class Acceptance:
    """When the readings of a film pass: their mean at what is asked or more, none below a share of it (`floor`, 0–1),
    at most a share of them (`thin_share`, 0–1) below it.      Source: [ISO-19840], for films asked of 40 µm or more.
    """

    floor: float = 0.8
    thin_share: float = 0.2


@dataclass(frozen=True)
class FilmSurvey:
    """Dry-film readings held against what is asked, all in µm; corrected for the profile already.

    Valid for 1 to 500 readings of 0 to 5000 µm and an asked film of 1 to 5000 µm; else OutsideValidity.

    >>> survey = FilmSurvey((78.0, 52.0, 61.0, 49.0, 70.0), 50.0)
    >>> survey.mean, round(survey.spread, 1), survey.share_thin, survey.accepted
    (62.0, 12.1, 0.2, True)
    """

    readings: tuple[float, ...]
    asked: float
    acceptance: Acceptance = Acceptance()

    def __post_init__(self) -> None:
        within("readings", len(self.readings), 1, 500, "readings", OUR_JUDGEMENT)
        _check_film("dry film", self.asked)
        for reading in self.readings:
            within("gauge reading", reading, 0, 5000, "µm", OUR_JUDGEMENT)

    @property
    def mean(self) -> float:
        return fmean(self.readings)

    @property
    def spread(self) -> float:
        """Standard deviation of the readings as a sample; 0 for a single one."""
        return stdev(self.readings) if len(self.readings) > 1 else 0.0

    @property
    def floor(self) -> float:
        return self.acceptance.floor * self.asked

    @property
    def thin(self) -> int:
        """Readings below what is asked."""
        return sum(reading < self.asked for reading in self.readings)

    @property
    def too_thin(self) -> int:
        """Readings below the floor."""
        return sum(reading < self.floor for reading in self.readings)

    @property
    def share_thin(self) -> float:
        return self.thin / len(self.readings)

    @property
    def percent_thin(self) -> float:
        return 100 * self.share_thin

    @property
    def mean_reaches(self) -> bool:
        return self.mean >= self.asked

    @property
    def few_thin(self) -> bool:
        return self.share_thin <= self.acceptance.thin_share

    @property
    def accepted(self) -> bool:
        return self.mean_reaches and self.few_thin and not self.too_thin

    @property
    def working(self) -> Working:
        readings = ", ".join(f"{reading:.4g}" for reading in self.readings)
        return Working(
            "mean dry film",
            "mean = Σ readings / n; s = √(Σ (reading − mean)² / (n − 1))",
            (
                ("readings, corrected", f"{readings} µm"),
                ("asked", f"{self.asked:.4g} µm"),
                ("standard deviation s", f"{self.spread:.3g} µm"),
                ("below what is asked", f"{self.thin} of {len(self.readings)}"),
                ("floor", f"{self.acceptance.floor * 100:.3g} % of it, {self.floor:.4g} µm"),
                ("below the floor", str(self.too_thin)),
            ),
            f"{self.mean:.4g} µm",
            "ISO-19840",
            "The standard is for films of 40 µm and more; thinner ones are held to it all the same, as practice.",
        )


def wet_film_working(dry_film: Any, volume_solids: Any, thinning: Any = NO_THINNING) -> Working:
    """How `wet_film_from_dry_film` came about."""
    return Working(
        "wet film",
        "WFT = DFT · (100 + thinning) / VS",
        _inputs(dry_film=dry_film, volume_solids=volume_solids, thinning=thinning),
        f"{wet_film_from_dry_film(dry_film, volume_solids, thinning):.4g~P}",
        "SPREADING-RATE-WORKED",
    )


def dry_film_working(wet_film: Any, volume_solids: Any, thinning: Any = NO_THINNING) -> Working:
    """How `dry_film_from_wet_film` came about."""
    return Working(
        "dry film",
        "DFT = WFT · VS / (100 + thinning)",
        _inputs(wet_film=wet_film, volume_solids=volume_solids, thinning=thinning),
        f"{dry_film_from_wet_film(wet_film, volume_solids, thinning):.4g~P}",
        "SPREADING-RATE-WORKED",
    )


def spreading_rate_working(volume_solids: Any, dry_film: Any) -> Working:
    """How `spreading_rate` came about."""
    return Working(
        "theoretical spreading rate",
        "r = 10 · VS / DFT",
        _inputs(volume_solids=volume_solids, dry_film=dry_film),
        f"{spreading_rate(volume_solids, dry_film):.4g~P}",
        "SPREADING-RATE",
    )


def practical_spreading_rate_working(rate: Any, loss: Any) -> Working:
    """How `practical_spreading_rate` came about."""
    return Working(
        "practical spreading rate",
        "r' = r · (1 − loss)",
        _inputs(spreading_rate=rate, loss=loss),
        f"{practical_spreading_rate(rate, loss):.4g~P}",
        "SPREADING-RATE",
        "Loss is the share of the paint used that never becomes film.",
    )


def dead_film_working(profile: Any, share: Any = DEAD_SHARE) -> Working:
    """How `dead_film` came about."""
    return Working(
        "dead film",
        "D₁ = share · Rz",
        _inputs(profile=profile, share_of_the_profile=share),
        f"{dead_film(profile, share):.4g~P}",
        OUR_JUDGEMENT,
        "Published shares run from a third of the profile to all of it.",
    )


def paint_working(
    area: Any, dry_film: Any, volume_solids: Any, loss: Any, *, coats: int = 1, dead_film: Any = NO_DEAD_FILM
) -> Working:
    """How `paint_for_area` came about."""
    litres = paint_for_area(area, dry_film, volume_solids, loss, coats=coats, dead_film=dead_film)
    inputs = _inputs(area=area, dry_film=dry_film, volume_solids=volume_solids, loss=loss, dead_film=dead_film)
    return Working(
        "paint from the tin",
        "V = A · (coats · DFT + D₁) / (10 · VS) / (1 − loss)",
        (*inputs, ("coats", str(coats))),
        _told(litres),
        "SPREADING-RATE",
    )


def _told(value: Any) -> str:
    spread = Range.of(value)
    if spread.low == spread.high:
        return f"{spread.likely:.4g~P}"
    return f"{spread.likely:.4g~P} ({spread.low:.4g~P} to {spread.high:.4g~P})"


def _inputs(**values: Any) -> tuple[tuple[str, str], ...]:
    return tuple((name.replace("_", " "), _told(value)) for name, value in values.items())
