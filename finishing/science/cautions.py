"""What to mind where work can hurt somebody, by what the work is. It is shown beside the work and printed with it."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

DEFERRAL = "Local law, the data sheet and licensed people decide; this is not a permit or instruction."


@dataclass(frozen=True)
class Caution:
    """One caution: the key that work asks for it by, its title, its gist, and the keys of its sources."""

    trigger: str
    title: str
    gist: str
    sources: tuple[str, ...]
    closing: ClassVar[str] = DEFERRAL


# In the order in which they are told: what harms at once and for life comes first.
CAUTIONS = (
    Caution(
        "blasting",
        "Blasting dust",
        "Blasting dust harms the lungs for life. Air-fed helmet for whoever blasts, dust drawn off or kept in,"
        " everybody else away. No medium with silica; the sand baked on a casting is silica too.",
        ("NIOSH-SILICA", "COSHH-SILICA", "SILICA-EXPOSURE"),
    ),
    Caution(
        "breathing air",
        "Air to breathe",
        "Air from a workshop compressor is not fit to breathe. What a helmet gets, from the same compressor or another,"
        " is dried, filtered and tested as breathing air, with an alarm for carbon monoxide and the intake away from"
        " exhausts.",
        ("BREATHING-AIR", "GRADE-D"),
    ),
    Caution(
        "blast hose and pot",
        "Hose and pot under pressure",
        "Dead-man handle at the nozzle, safety cables over every coupling, and the pressure let off before a pot or a"
        " coupling is opened. Pot and receiver are inspected vessels with a relief valve. Never point a nozzle at"
        " anybody.",
        ("UFC-DEAD-MAN", "BLASTING-LAW"),
    ),
    Caution(
        "noise",
        "Noise of blasting",
        "The nozzle, and the air blown into a helmet, are loud enough to harm hearing for life. Hearing protection"
        " under the helmet, also for whoever tends the pot, and others kept away.",
        ("HSE-BLASTING-NOISE",),
    ),
    Caution(
        "static",
        "Static from the hose",
        "Grit rushing through hose and nozzle charges them: sparks that startle a blaster and light vapour or dust."
        " Antistatic hose, and nozzle, pot and work earthed to one another.",
        ("common practice",),
    ),
    Caution(
        "beryllium",
        "Beryllium in slag",
        "Some coal and copper slags hold beryllium, and dust of a trace of it can make the lungs ill for life. Ask for"
        " the safety data sheet, and take a medium without it.",
        ("common practice",),
    ),
    Caution(
        "chromate",
        "Chromate or lead in the paint",
        "Zinc, strontium and lead chromate primers cause cancer, above all as dust and spray, and red lead poisons: not"
        " new, never sprayed or rubbed down dry, and where an old one is blasted, as for lead, with air-fed helmet,"
        " enclosed, and its grit as hazardous waste.",
        ("common practice",),
    ),
    Caution(
        "old paint",
        "Old paint",
        "Take old paint for leaded until a test says otherwise: red and white lead were usual before the 1960s and"
        " often later. No dry sanding, no burning off. Blasting it is among the worst exposures to lead: test, enclose,"
        " keep food and children away, have blood tested, and send the grit away as what it then is. Old gaskets and"
        " coatings may hold asbestos, PCB or chromate.",
        ("HSE-LEAD", "LEAD-HISTORY", "LEAD-LAW"),
    ),
    Caution(
        "isocyanate",
        "Isocyanates in the hardener",
        "They cause asthma, and one bad day can be enough. To spray, an air-fed visor, never a filter mask alone, and"
        " it stays down until the air has cleared: a booth takes 1 to 5 minutes, a room 30 or more. Off the skin in any"
        " case, and health surveillance for who works with it.",
        ("ISOCYANATE", "SPRAY-BREATHING"),
    ),
    Caution(
        "epoxy skin",
        "Epoxy on the skin",
        "Epoxy and its hardener can make the skin allergic for life: gloves, long sleeves, and no washing of hands with"
        " solvent.",
        ("common practice",),
    ),
    Caution(
        "solvent",
        "Solvent vapour",
        "It burns, and being heavier than air it creeps to where the flame is. No flame, pilot light, grinder or switch"
        " that arcs; air enough to stay below a quarter of the lower explosive limit, and far more for health; bond"
        " metal containers when pouring.",
        ("SOLVENT-VAPOUR",),
    ),
    Caution(
        "oily rags",
        "Rags with oil or alkyd",
        "They heat up by themselves and burn. Wet them, and put them outside in a closed metal bin.",
        ("common practice",),
    ),
    Caution(
        "cellulose dust",
        "Dust of cellulose paint",
        "Dust and overspray of nitrocellulose catch fire easily. Clean up wet, and keep them apart from other paint"
        " dust.",
        ("common practice",),
    ),
    Caution(
        "wet stripping",
        "Wet, soda or chemical stripping",
        "Rinse, bring it back to neutral, and dry the iron at once. What runs off and what was stripped is waste, and"
        " goes where the law says.",
        ("common practice",),
    ),
    Caution(
        "heavy",
        "Heavy or tall pieces",
        "Know the weight before lifting. Hoist, rated sling and known eyes, two people, and nobody below. Cast iron is"
        " brittle: no chain on rims, and no trust in cast lugs.",
        ("LIFTING",),
    ),
    Caution(
        "pressure parts and guards",
        "Pressure parts, guards and brakes",
        "What holds pressure, guards a hand or stops a load goes back to work only after somebody competent has"
        " inspected it.",
        ("common practice",),
    ),
    Caution(
        "hot work",
        "Welding and cutting near coatings",
        "Cadmium, zinc and chlorinated coatings give poisonous fumes when heated, chlorinated rubber hydrochloric acid."
        " Take the coating off first, well back from the heat.",
        ("common practice",),
    ),
    Caution(
        "repair of iron",
        "Brazing and welding cast iron",
        "Cast iron cracks again where it is heated or cooled unevenly: preheat, weld short, cool slowly, and leave what"
        " bears a load, holds pressure or turns fast to somebody qualified, who tests it afterwards. Braze fumes (zinc,"
        " cadmium in old silver alloys) and burning oil or old paint are poisonous: clean to bare metal well back from"
        " the heat, draw the fumes off, and keep a fire watch.",
        ("common practice",),
    ),
    Caution(
        "flash rust below",
        "Rust under a wet coat",
        "Water in the paint can rust bare iron below it where it dries slowly: look at the first coat for spots.",
        ("WATERBORNE-DRYING",),
    ),
    Caution(
        "patch",
        "Lifting",
        "The next coat can lift a half-hardened one: try a patch first.",
        ("ALKYD-LIFTING",),
    ),
)

BY_TRIGGER = {caution.trigger: caution for caution in CAUTIONS}
HEAVY_FROM = 25.0  # kg   [LIFTING]


def cautions_for(triggers: Iterable[str]) -> list[Caution]:
    """The cautions for these triggers, each once, the gravest first. An unknown trigger raises KeyError.

    >>> [caution.title for caution in cautions_for(["heavy", "blasting", "heavy"])]
    ['Blasting dust', 'Heavy or tall pieces']
    """
    asked = {BY_TRIGGER[trigger].trigger for trigger in triggers}
    return [caution for caution in CAUTIONS if caution.trigger in asked]
