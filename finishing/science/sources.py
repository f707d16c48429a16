"""Every work cited, once, by key. Pages show "after [WMO8]" with the full reference from here."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Source:
    """A work, and how far it was read: "seen" (a stored page or excerpt), "memory" (recalled, not seen)."""

    key: str
    title: str
    address: str = ""
    read: str = "seen"

    def __str__(self) -> str:
        note = "" if self.read == "seen" else " (from memory, not seen)"
        return f"{self.title}{note}"


COMMON_PRACTICE = "common practice"
OUR_JUDGEMENT = "our judgement"

_WORKS = (
    Source(COMMON_PRACTICE, "Common practice of the trade, no source"),
    Source(OUR_JUDGEMENT, "Our own judgement or model, without outside validation"),
    Source(
        "AE1996",
        "Alduchov & Eskridge 1996, Improved Magnus form approximation of saturation vapor pressure,"
        " J. Appl. Meteor. 35(4), 601–609",
        "https://journals.ametsoc.org/view/journals/apme/35/4/1520-0450_1996_035_0601_imfaos_2_0_co_2.xml",
    ),
)

SOURCES = {work.key: work for work in _WORKS}
