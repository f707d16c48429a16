"""Heat that metal takes up and gives off, hour by hour: the lumped model behind metal.py and moving.py."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from . import constants
from .hours import Flags, Floats

_ZERO = constants.ZERO_CELSIUS.value
_SIGMA = constants.STEFAN_BOLTZMANN.value
SECONDS = 3600.0

BALANCE_ROUNDS = 6  # each brings the balance some ten times nearer
DOUBT_ALLOWED = 0.05  # share of a temperature that may come from air nobody knows


def follow(
    metal: Any,
    air: Any,
    air_after: Any,
    seconds: float,
    *,
    store: Any,
    convection: Any,
    emissivity: float = 0.0,
    gain: Any = 0.0,
    gain_after: Any = None,
) -> tuple[Any, Any]:
    """Metal after a stretch of time in air that runs straight from one temperature to another; bare arrays.

    store·dT/dt = h·(T_a − T) + g,   h = h_c + ε·σ·(T + T_a)·(T² + T_a²)

    solved exactly with h held through the stretch, so that no length of step makes it unstable:
    T = T_0·e + T_e'·(1 − φ) + T_e·(φ − e),   T_e = T_a + g/h,  x = h·t/store,  e = exp(−x),  φ = (1 − e)/x

    °C, seconds, store = ρ·c·L in J/(m²·K), convection W/(m²·K), gain W/m² beyond what air at T_a would give
    (sun; walls or sky that are not as warm as the air), running straight to gain_after where that is given. Returns
    the temperature and e, the share of the start that is still in it.  Source: [INCROPERA] ch. 5.

    >>> warmer, left = follow(5.0, 18.0, 18.0, 3600, store=7200 * 460 * 0.02, convection=8.0)
    >>> round(float(warmer), 2), round(float(left), 2)
    (9.58, 0.65)
    """
    last = gain if gain_after is None else gain_after

    def with_coupling_at(middle: Any) -> tuple[Any, Any]:
        h = convection + radiative(middle, (air + air_after) / 2, emissivity)
        return _ramp(metal, air + gain / h, air_after + last / h, h * seconds / store)

    after, left = with_coupling_at(metal)
    if emissivity == 0:
        return after, left
    # Radiation grows with the temperature itself: once more, with the coupling at the middle of the way.
    return with_coupling_at((metal + after) / 2)


@dataclass(frozen=True)
class Course:
    """What the metal meets, hour by hour, with what is not known bridged by a guess and marked."""

    air: Floats  # °C at each instant
    loss: Floats  # W/m² to the sky at each instant
    sun: Floats  # W/m² through the hour that begins there
    convection: Floats  # W/(m²·K) through that hour
    emissivity: float
    air_known: Flags
    known: Flags  # air and sky are
    unknown: Flags  # that hour's air or sky is a guess
    store: Floats  # J/(m²·K), one for each piece

    def step(self, metal: Floats, doubt: Any, hour: Any, begin: float = 0.0) -> tuple[Floats, Floats]:
        """Metal, and the share of it that comes from guesses, from within an hour (0 to 1) to its end.

        Each piece may be in an hour of its own.
        """
        (air, air_after), (loss, loss_after) = ((x[hour], x[hour + 1]) for x in (self.air, self.loss))
        after, left = follow(
            metal,
            air + begin * (air_after - air),
            air_after,
            (1 - begin) * SECONDS,
            store=self.store,
            convection=self.convection[hour],
            emissivity=self.emissivity,
            gain=self.sun[hour] - loss - begin * (loss_after - loss),
            gain_after=self.sun[hour] - loss_after,
        )
        return after, left * doubt + (1 - left) * self.unknown[hour]

    def balance(self, hour: int) -> float:
        """Where metal rests that has long stood in this air, under this sky, without sun."""
        metal = self.air[hour]
        for _ in range(BALANCE_ROUNDS):
            coupling = self.convection[hour] + radiative(metal, self.air[hour], self.emissivity)
            metal = self.air[hour] - self.loss[hour] / coupling
        return float(metal)

    def told(self, metal: Floats, doubt: Any, hour: Any) -> Floats:
        """The metal's temperature, NaN where too much of it is a guess; a reading at the very instant is known."""
        known = (doubt < DOUBT_ALLOWED) & (self.air_known[hour] | (doubt == 0))
        return np.where(known, metal, np.nan)


def radiative(metal: Any, air: Any, emissivity: float) -> Any:
    """Coupling by radiation, W/(m²·K), to surroundings as warm as the air."""
    if emissivity == 0:
        return 0.0
    one, other = metal + _ZERO, air + _ZERO
    return emissivity * _SIGMA * (one + other) * (one * one + other * other)


def _ramp(metal: Any, around: Any, around_after: Any, x: Any) -> tuple[Any, Any]:
    gone = -np.expm1(-x)
    left, lag = 1 - gone, gone / x
    return metal * left + around_after * (1 - lag) + around * (lag - left), left


def through(instants: Floats) -> Floats:
    """Mean of each hour from the values at its two ends; the last hour has only its beginning."""
    return np.asarray((instants + np.append(instants[1:], instants[-1])) / 2, float)


def bridged(air: Floats) -> Floats:
    """What is not known drawn straight between what is."""
    known = np.flatnonzero(~np.isnan(air))
    if not len(known):
        return np.zeros(len(air))
    return np.asarray(np.interp(np.arange(len(air)), known, air[known]), float)
