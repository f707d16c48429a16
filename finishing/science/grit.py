"""Blasting media and what they do to a metal: which are suited, at which pressure to begin, and which are refused.

Every advice begins with a test patch: start low, creep up to the first clean metal, and stay there. What cleans scale
from plate eats the letters off a casting.
"""

from dataclasses import dataclass
from typing import Any, Literal

from .constants import Constant
from .sources import COMMON_PRACTICE, OUR_JUDGEMENT
from .units import Quantity

SILICA_LIMIT = Constant("most free silica in a blasting medium", "", 1.0, "%", "NIOSH-SILICA")
NO_KEY = Constant("profile up to which paint finds no key", "", 15.0, "µm", COMMON_PRACTICE)


@dataclass(frozen=True)
class Kind:
    """A family of media.

    feed_difference: bar by which the pot stands above the hose; a powder hangs in the pot and needs more of it.
    """

    grain: Literal["angular", "round", "soft"]
    reused: bool
    leaves_iron: bool
    feed_difference: float = 0.15
    source: str = "MEDIA-TABLE"


KINDS = {
    "crushed glass": Kind("angular", False, False, source=COMMON_PRACTICE),
    "garnet": Kind("angular", True, False),
    "aluminium oxide": Kind("angular", True, False),
    "mineral slag": Kind("angular", False, True),
    "steel grit": Kind("angular", True, True),
    "steel shot": Kind("round", True, True),
    "glass bead": Kind("round", True, False),
    "plastic": Kind("soft", True, False, 0.2),
    "bicarbonate": Kind("soft", False, False, 0.3),
    "walnut shell": Kind("soft", True, False, 0.2, COMMON_PRACTICE),
    "corn cob": Kind("soft", True, False, 0.2),
    "silica sand": Kind("angular", False, False),
}
NEVER = "silica sand"


def silica_refusal(free_silica: Any) -> str | None:
    """Why a medium may not be blasted with, or None. `free_silica` is the most that it may hold; None is unknown.

    Refused over 1 %, and where nobody knows.      Source: [NIOSH-SILICA]; sand as such [COSHH-SILICA].

    >>> silica_refusal(Quantity(1, "percent"))
    >>> silica_refusal(Quantity(95, "percent"))[:31]
    'It holds up to 95 % free silica'
    """
    if free_silica is None:
        return (
            "How much free silica it holds is not known, so it is refused: its dust could scar the lungs for life. Look"
            " it up on the safety data sheet."
        )
    share = free_silica.to("percent").magnitude
    if share <= SILICA_LIMIT.value:
        return None
    return (
        f"It holds up to {share:g} % free silica, and over {SILICA_LIMIT.value:g} % is refused: its dust scars the"
        " lungs for life, and many countries forbid it for blasting."
    )


def refusal(kind: str, free_silica: Any) -> str | None:
    """Why a medium may not be blasted with, or None: sand never, others by their free silica.

    >>> refusal("silica sand", Quantity(0.5, "percent"))[:24]
    'Sand is never blasted wi'
    """
    if kind == NEVER:
        return "Sand is never blasted with, whatever its sheet says: its dust scars the lungs for life."
    return silica_refusal(free_silica)


@dataclass(frozen=True)
class Grade:
    """A degree of cleanliness, and by how much cleaning to it is quicker or slower than to Sa 2½."""

    sp: str
    title: str
    meaning: str
    factor: float  # [our judgement]
    source: str = "CLEANLINESS"


GRADES = {
    "Sa 1": Grade("SP 7", "brush-off", "loose rust, scale and paint are gone; what is tight stays", 3.0),
    "Sa 2": Grade("SP 6", "commercial", "stains and streaks on at most a third of it", 1.5),
    "Sa 2½": Grade("SP 10", "near white", "faint stains on at most a twentieth of it", 1.0),
    "Sa 3": Grade("SP 5", "white metal", "bare metal all over, no stain", 0.75),
}


@dataclass(frozen=True)
class State:
    """What is to come off: by how much it is quicker or slower than plain even rust, and the nozzle's angle to it."""

    factor: float  # [our judgement]
    angle: tuple[int, int]  # degrees from the face   [UFC-ANGLE]
    hint: str
    needs_cutting: bool = True


_STRAIGHT = "nearly straight at the face"
_PEEL = "slanting, to peel it from its edges; taken for leaded until tested"
_DEGREASE = "a little slanting; degrease first, or hard grit drives it in"

STATES = {
    "plain rust": State(1.0, (80, 90), _STRAIGHT),
    "light rust": State(1.2, (80, 90), _STRAIGHT),
    "foundry skin or tight scale": State(0.8, (80, 90), f"{_STRAIGHT}; tight scale takes most of the day"),
    "thick old paint": State(0.5, (45, 60), _PEEL, False),
    "pitted": State(0.6, (80, 90), f"{_STRAIGHT}, into the pits"),
    "grease and dirt": State(1.2, (60, 70), _DEGREASE, False),
}
TIGHT = "foundry skin or tight scale"

SHAPES = {"flat": 1.0, "ribbed casting": 0.6, "spokes or lattice": 0.4}  # [our judgement]


@dataclass(frozen=True)
class Advice:
    """What suits a metal and what does not, each with its reason, and the pressures at the nozzle in bar.

    `source` is that of the reasons; all pressures are common practice.
    """

    suited: dict[str, str]
    avoid: dict[str, str]
    start: float
    most: float
    why: str
    most_on_scale: float | None = None
    source: str = COMMON_PRACTICE


_CUTS = "cuts rust and skin and leaves a key, without iron in it"
_FINE = "in a fine grain: leaves a key, without iron in it"
_FINE_AND_LOW = "in a fine grain and at a low angle, where there is rust"
_KEY_AND_CYCLES = "hard and sharp, leaves a key and can be gathered and used again"
_IN_CABINET = "heavy and quick, but only in a cabinet, where it is gathered dry; left in the yard it rusts"
_ROUND = "round: it leaves waves and little key for paint; only for metal that stays bare"
_PEENS = "round and heavy: it peens, and may crack what is brittle"
_NO_RUST = "takes off paint and grease, but no rust and no metal"
_HEAVY = "heavy grains break thin edges and open a crack"
_WARPS = "coarse or heavy grit stretches one face, and the sheet warps"
_IRON_LEFT = "iron left in the surface rusts there, and eats into the metal around it"
_IRON_UNKNOWN = "whether it leaves iron is not known, and iron left in the surface rusts there"
_TOO_HARD = "hard sharp grit cuts soft metal away in a moment"
_GENTLE = "strips paint and dirt and leaves the metal as it is"

_CASTING = {"crushed glass": _CUTS, "garnet": _CUTS, "aluminium oxide": _KEY_AND_CYCLES, "steel grit": _IN_CABINET}
_ON_CASTING = {"glass bead": _ROUND, "steel shot": _PEENS}
_SPOILT_BY_IRON = ("aluminium", "brass and bronze")
_LEAVES_IRON = dict.fromkeys(("steel grit", "steel shot", "mineral slag"), _IRON_LEFT)

ADVICE = {
    "grey iron": Advice(
        _CASTING,
        _ON_CASTING,
        start=2.0,
        most=5.0,
        why="Grey iron is brittle, and pressure takes cast letters, edges and thin ribs first;"
        " only tight scale is worth more.",
        most_on_scale=7.0,
    ),
    "ductile iron": Advice(
        _CASTING,
        _ON_CASTING,
        start=2.0,
        most=5.0,
        why="Ductile iron bends before it breaks, but its skin comes off like that of grey iron.",
        most_on_scale=7.0,
    ),
    "thin or cracked iron": Advice(
        dict.fromkeys(("garnet", "crushed glass"), _FINE),
        _ON_CASTING | {"steel grit": _HEAVY, "mineral slag": _HEAVY, "aluminium oxide": _HEAVY},
        start=2.0,
        most=4.0,
        why="Pressure works a crack open and shakes pins and stitches loose. Keep away from them, and keep moving.",
    ),
    "steel plate": Advice(
        _CASTING | {"mineral slag": "cheap and quick outdoors, used once"},
        {"glass bead": _ROUND},
        start=5.0,
        most=7.0,
        why="Plate bears it. Tight mill scale can take more work than the last step to white metal.",
        source="MILL-SCALE",
    ),
    "steel sheet": Advice(
        {
            "plastic": _GENTLE,
            "bicarbonate": _GENTLE,
            "crushed glass": _FINE_AND_LOW,
        },
        dict.fromkeys(("steel grit", "steel shot", "mineral slag", "garnet", "aluminium oxide"), _WARPS),
        start=1.5,
        most=3.0,
        why="Below 1.5 mm a sheet warps from the work of one face. Low angle, wide strokes, and both faces in turn.",
    ),
    "aluminium": Advice(
        {
            "glass bead": "cleans and brightens without cutting",
            "plastic": _GENTLE,
            "crushed glass": _FINE,
        },
        _LEAVES_IRON | {"garnet": _TOO_HARD, "aluminium oxide": _TOO_HARD},
        start=1.5,
        most=3.0,
        why="Aluminium is soft, and conventional abrasives are not for it. Nothing that has been on iron before.",
        source="UFC-ALUMINIUM",
    ),
    "brass and bronze": Advice(
        {"bicarbonate": "the one for them: takes paint and dirt off and leaves the metal and its edges"}
        | {"walnut shell": _GENTLE, "plastic": _GENTLE, "glass bead": "leaves a satin face; a short pass only"},
        _LEAVES_IRON | {"crushed glass": _TOO_HARD, "garnet": _TOO_HARD, "aluminium oxide": _TOO_HARD},
        start=1.5,
        most=3.0,
        why="Soft and often thin: makers' plates and oilers lose their letters. Never dwell.",
    ),
}

TEST_PATCH = (
    "A test patch first, where nobody looks: begin at the lower pressure, creep up to the first clean metal, and stay"
    " there."
)
RINSE = "Rinse, test for salts, and let it dry neutral before paint: what stays is alkaline and spoils an alkyd."


def pressures(metal: str, state: str) -> tuple[Any, Any]:
    """Pressure at the nozzle to begin at, and not to exceed.      Source: [common practice].

    >>> low, high = pressures("grey iron", "foundry skin or tight scale")
    >>> f"{low:.0f~P} to {high:.0f~P}"
    '2 bar to 7 bar'
    """
    advice = ADVICE[metal]
    tight = state == TIGHT and advice.most_on_scale
    return Quantity(advice.start, "bar"), Quantity(tight or advice.most, "bar")


def likely_pressure(start: Any, most: Any) -> Any:
    """Where the work will run between the two: half way.      Basis: [our judgement].

    >>> likely_pressure(Quantity(2, "bar"), Quantity(5, "bar"))
    <Quantity(3.5, 'bar')>
    """
    return (start + most) / 2


@dataclass(frozen=True)
class Fit:
    """Whether a medium suits: one word, the reason, and the key of its source."""

    kind: str
    word: Literal["suited", "test patch", "avoid", "never"]
    reason: str
    source: str


def fit(kind: str, metal: str, state: str, leaves_iron: bool | None = False) -> Fit:
    """Does this medium suit this metal, for what is to come off?      Source: with each answer.

    `leaves_iron` is what the sheet of the medium in hand says, None where it says nothing; that of its family counts
    in any case.

    >>> fit("bicarbonate", "brass and bronze", "grease and dirt").word
    'suited'
    >>> fit("bicarbonate", "grey iron", "foundry skin or tight scale").reason
    'takes off paint and grease, but no rust and no metal'
    """
    advice, soft = ADVICE[metal], KINDS[kind].grain == "soft"
    if kind == NEVER:
        return Fit(kind, "never", "free silica: its dust scars the lungs for life", "COSHH-SILICA")
    if metal in _SPOILT_BY_IRON and leaves_iron is not False:
        return Fit(kind, "avoid", _IRON_LEFT if leaves_iron else _IRON_UNKNOWN, COMMON_PRACTICE)
    if soft and STATES[state].needs_cutting and ("iron" in metal or "steel" in metal):
        return Fit(kind, "avoid", _NO_RUST, COMMON_PRACTICE)
    if kind in advice.suited:
        return Fit(kind, "suited", advice.suited[kind], advice.source)
    if kind in advice.avoid:
        return Fit(kind, "avoid", advice.avoid[kind], advice.source)
    return Fit(kind, "test patch", _NO_RUST if soft else "nothing speaks for or against it", OUR_JUDGEMENT)


def choices(metal: str, state: str) -> dict[str, list[Fit]]:
    """Every family of media under its word, those suited in the order in which one would reach for them.

    >>> [choice.kind for choice in choices("brass and bronze", "grease and dirt")["suited"]]
    ['bicarbonate', 'walnut shell', 'plastic', 'glass bead']
    """
    preferred = [*ADVICE[metal].suited, *(kind for kind in KINDS if kind not in ADVICE[metal].suited)]
    fits = [fit(kind, metal, state) for kind in preferred]
    return {word: [one for one in fits if one.word == word] for word in ("suited", "test patch", "avoid", "never")}
