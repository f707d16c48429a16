"""What may go over what, by generic type, and why. A data sheet that says otherwise wins; a test patch beats both.

Old paint that nobody can name is never a yes. *Aged* is a coat that has hardened and is past its recoat window.
"""

from dataclasses import dataclass
from typing import Literal

from .sources import COMMON_PRACTICE, DATA_SHEET, OUR_JUDGEMENT

Word = Literal["yes", "abrade first", "test patch", "no"]

FAMILIES = {
    "nitrocellulose": "lacquer",
    "cellulose enamel": "lacquer",
    "alkyd enamel": "alkyd",
    "alkyd primer": "alkyd",
    "zinc phosphate primer": "alkyd",
    "machinery enamel": "alkyd",
    "sign enamel": "alkyd",
    "epoxy primer": "two-pack",
    "polyurethane": "two-pack",
    "waterborne acrylic": "waterborne",
    "chlorinated rubber": "rubber",
}
PRIMERS = frozenset({"alkyd primer", "zinc phosphate primer", "epoxy primer"})

OLD_OR_UNKNOWN, BITUMEN, ZINC = "old or unknown", "bitumen", "galvanised or zinc-rich"
NEW_TYPES = tuple(FAMILIES)
OLD_TYPES = (*NEW_TYPES, OLD_OR_UNKNOWN, BITUMEN, ZINC)


@dataclass(frozen=True)
class Verdict:
    """One word, the reason as a sentence, and the key of its source."""

    word: Word
    reason: str
    source: str


@dataclass(frozen=True)
class Rule:
    """What holds for a new family over an old one, while the old coat is fresh and when it has aged."""

    fresh: Word
    aged: Word
    reason: str
    source: str

    def verdict(self, aged: bool) -> Verdict:
        return Verdict(self.aged if aged else self.fresh, self.reason, self.source)


def _always(word: Word, reason: str, source: str) -> Rule:
    return Rule(word, word, reason, source)


_LIFTS = "Strong solvent swells an oil or alkyd coat and lifts it; an aged one may stand it, and only a patch can show."
_SOFTENS = "Strong solvent softens a dried acrylic; an aged one may stand it, and only a patch can show."
_DISSOLVES = "The coat below stays soluble however old it is, and the strong solvent of the new one takes it up."
_REDISSOLVES = "The new solvent opens the coat below and the two become one: one pass, and leave it alone."
_CURED = "A cured two-pack is hard and closed: the next coat holds only where it has been abraded."
_WITHIN = "Inside its recoat window it bonds as it is, never in a closed zone; when aged, it needs a key."
_KEY = "The new paint does not bite into this coat: it needs an abraded key."
_TRY = "Some pairs stay soft or let go, and no published rule was found: a patch decides."

_RULES = {
    ("lacquer", "lacquer"): _always("yes", _REDISSOLVES, COMMON_PRACTICE),
    ("lacquer", "alkyd"): Rule("no", "test patch", _LIFTS, "UFC-COMPATIBILITY"),
    ("lacquer", "two-pack"): _always("abrade first", _CURED, "UFC-THERMOSETS"),
    ("lacquer", "waterborne"): Rule("no", "test patch", _SOFTENS, OUR_JUDGEMENT),
    ("lacquer", "rubber"): _always("no", _DISSOLVES, OUR_JUDGEMENT),
    ("alkyd", "lacquer"): _always("abrade first", _KEY, COMMON_PRACTICE),
    ("alkyd", "alkyd"): Rule("yes", "abrade first", _WITHIN, COMMON_PRACTICE),
    ("alkyd", "two-pack"): _always("abrade first", _CURED, "UFC-THERMOSETS"),
    ("alkyd", "waterborne"): _always("test patch", _TRY, OUR_JUDGEMENT),
    ("alkyd", "rubber"): _always("test patch", _TRY, OUR_JUDGEMENT),
    ("two-pack", "lacquer"): _always("no", _DISSOLVES, "UFC-COMPATIBILITY"),
    ("two-pack", "alkyd"): Rule("no", "test patch", _LIFTS, "UFC-COMPATIBILITY"),
    ("two-pack", "two-pack"): Rule("yes", "abrade first", _WITHIN, "UFC-THERMOSETS"),
    ("two-pack", "waterborne"): Rule("no", "test patch", _SOFTENS, "UFC-COMPATIBILITY"),
    ("two-pack", "rubber"): _always("no", _DISSOLVES, DATA_SHEET),
    ("waterborne", "lacquer"): _always("abrade first", _KEY, OUR_JUDGEMENT),
    ("waterborne", "alkyd"): _always("abrade first", _KEY, "UFC-COMPATIBILITY"),
    ("waterborne", "two-pack"): _always("abrade first", _CURED, "UFC-THERMOSETS"),
    ("waterborne", "waterborne"): Rule("yes", "abrade first", _WITHIN, COMMON_PRACTICE),
    ("waterborne", "rubber"): _always("test patch", _TRY, OUR_JUDGEMENT),
    ("rubber", "lacquer"): _always("test patch", _TRY, OUR_JUDGEMENT),
    ("rubber", "alkyd"): Rule("no", "test patch", _LIFTS, "SSPC-PAINT-17"),
    ("rubber", "two-pack"): _always("abrade first", _CURED, "UFC-THERMOSETS"),
    ("rubber", "waterborne"): Rule("no", "test patch", _SOFTENS, OUR_JUDGEMENT),
    ("rubber", "rubber"): _always("yes", _REDISSOLVES, COMMON_PRACTICE),
}

_UNKNOWN = Verdict(
    "test patch",
    "Nobody knows this coat. Rub it with a cloth and strong solvent: colour on the cloth means that it will dissolve."
    " Then paint a patch and look after some days. Old paint may hold lead.",
    "UFC-SOLVENT-RUB",
)
_BLEEDS = Verdict("no", "Bitumen bleeds through whatever goes over it: take it off.", "UFC-COMPATIBILITY")
_SAPONIFIES = Verdict("no", "Oil and alkyd turn to soap on zinc and peel later.", "UFC-SOLVENT-RUB")
_ON_ZINC = Verdict(
    "test patch", "Only some paints hold on zinc, and only where it is clean and roughened.", OUR_JUDGEMENT
)
_FLAT_PRIMER = Rule(
    "yes", "abrade first", "A flat primer, once hard, is key enough; an aged one is not.", COMMON_PRACTICE
)
_PRIMER_ON_FINISH = Verdict(
    "abrade first", "A primer is made for metal: over a finish it needs an abraded key.", COMMON_PRACTICE
)


def verdict(new_type: str, old_type: str, aged: bool) -> Verdict:
    """May this paint go over that one? An old coat of a type not listed counts as unknown.

    Raises ValueError for a new paint of a type not listed.      Source: with each verdict.

    >>> verdict("polyurethane", "alkyd enamel", aged=False).word
    'no'
    >>> verdict("alkyd enamel", "old or unknown", aged=True).word
    'test patch'
    """
    if new_type not in FAMILIES:
        raise ValueError(f"“{new_type}” is not a type of paint known here")
    new = FAMILIES[new_type]
    if old_type not in FAMILIES:
        return _over_what_is_no_type(new, old_type)
    if new == "waterborne" and old_type in PRIMERS and FAMILIES[old_type] == "alkyd":
        return _FLAT_PRIMER.verdict(aged)
    found = _RULES[new, FAMILIES[old_type]].verdict(aged)
    primer_on_finish = new_type in PRIMERS and old_type not in PRIMERS
    return _PRIMER_ON_FINISH if found.word == "yes" and primer_on_finish else found


def _over_what_is_no_type(new: str, old_type: str) -> Verdict:
    if old_type == BITUMEN:
        return _BLEEDS
    if old_type == ZINC:
        return _SAPONIFIES if new == "alkyd" else _ON_ZINC
    return _UNKNOWN
