"""Words of a note that may call for an inspection and are asked about, in the five languages of `safety_words.py`."""

from __future__ import annotations

from draincurve.pipeline.reading.cleaning.loss_words import LEAK_SLIPS, OIL_MISSING, OIL_OUTSIDE, PARTS_MISSING

_SEALS = "(?:o[ -]?ring|(?:oil |dust |fork |shaft )?seal|wiper|gasket)s?(?: lips?)?"
_COATING = "(?:hard )?(?:coating|coat|anodi[sz]ing|plating|chrome)"

_LEAK_HINTS = (
    *("oil on (?:the )?(?:leg|tube|stanchion|tyre|tire|disc|caliper|brake|wheel|lower|fender)", "damp wiper"),
    *(f"{_SEALS} (?:is |are |was |were )?(?:torn|shot|split|cut|damaged|perished)\\b", "schwitzt"),
    *(f"(?:torn|split|damaged|perished) {_SEALS}\\b", "öl (?:am|auf dem) (?:standrohr|reifen|holm|tauchrohr)"),
    *("(?:simmerring|dichtung|dichtring|o-?ring)e? (?:ist |sind )?(?:kaputt|beschädigt|hin|defekt|gerissen)\\b",),
    *(
        "joint (?:spi |torique )?(?:déchiré|abîmé|mort|hs)\\b",
        "huile sur (?:le|la) (?:tube|pneu|plongeur|disque|fourreau|jante)",
    ),
    *(
        "(?:retén|retenes|junta|tórica) (?:roto|rota|rasgad|dañad|gastad)",
        "aceite en (?:la barra|el neumático|el disco)",
    ),
    *(
        "(?:paraolio|guarnizione|o-?ring) (?:è )?(?:rott|strappat|rovinat|danneggiat|andat|finit|consumat)",
        "olio sul(?:lo stelo|la gomma| disco)",
    ),
)
_NOISES = (
    *("clunk", "clank", "rattl(?:es?|ing)\\b(?! can)", "creak", "squeak", "klackert", "klackt", "klappert", "knackt"),
    *("knarzt", "poltert", "klopft", "quietscht", "claquement", "cogne\\b", "grince", "couine", "golpetea", "cruje"),
    *("chirría", "traquetea", "sbatte\\b", "cigola", "scricchiola"),
)
_WEAR = (
    *("(?:bush(?:ing)?|bearing)s? (?:has |have |with )?(?:play|slop)\\b(?! ?days?)", "(?:bush(?:ing)?)s? worn"),
    *(
        "play in (?:the )?(?:bush|bearing|fork|leg|shaft|lower|upper)",
        "(?:has|too much|excess(?:ive)?) play\\b(?! ?day)",
    ),
    *("buchsenspiel", "lagerspiel", "(?:hat|zu viel) spiel\\b", "buchsen? (?:hat|haben) spiel", "holgura"),
    *(
        "juego en (?:el|la|los|las) (?:casquillo|barra|horquilla|rodamiento)",
        "(?:ha|troppo) gioco\\b",
        "gioco (?:nel|all)",
    ),
    *("binds\\b", "jammed", "(?<!low )(?<!low-)(?<!less )(?<!anti-)stiction", "schwergängig", "verkantet"),
    *("coince", "se traba\\b", "gripad", "impunta", f"{_COATING} (?:is |was )?(?:worn|gone|flaking|peeling|chipped)"),
    *("(?:stanchion|tube|shaft)s? (?:is |are |was )?worn", "worn through\\b(?= (?:to|at|on)\\b)", "durchgescheuert"),
    *("beschichtung (?:ist )?(?:ab|durch|abgenutzt|verschlissen|blättert)", "eloxal (?:ist )?(?:ab|durch)\\b"),
    *(
        "revêtement (?:usé|parti|abîmé)",
        "anodisation (?:usée|partie)",
        "(?:recubrimiento|anodizado) (?:gastad|dañad)",
    ),
    *(
        "(?:rivestimento|anodizzazione) (?:consumat|usurat)",
        "swarf",
        "(?:metal|alumini?um|alloy) shavings",
        "aluspäne",
    ),
    *("magnet (?:is |was )?(?:full|covered|loaded|voll)\\b", "silver paste", "limaille", "aimant plein", "limaduras"),
    *("imán lleno", "limatura", "magnete pieno", "aluminiumspäne"),
)
_DAMAGE = (
    *(
        "scratched",
        "scratch(?:es)? (?:on|in)\\b",
        "pitt(?:ed|ing)\\b",
        "snapped",
        "gouge",
        "dent(?:ed|s)\\b",
        "corroded",
    ),
    *(
        "kratzer",
        "(?:zer|ver)kratzt",
        "riefen?\\b",
        "eingedellt",
        "abgebrochen",
        "abgerissen",
        "rayé",
        "rayure",
        "rayad",
        "arañad",
    ),
    *(
        "abollad",
        "(?:con|un) golpe\\b",
        "golpead",
        "graffiat",
        "rigat[oaie]\\b",
        "ammaccat",
        "crack(?!er|l)[a-z]",
        "hairline",
        "rajad[oa]s?\\b",
        "ausgeschlagen",
        "(?:is|are|was) toast\\b",
        "(?:muelle|barra|tornillo|eje) (?:está )?(?:partid|rompid)[oa]",
        "crak",
        "krack",
    ),
    *("(?:shock|fork|damper|cartridge|seal)s? (?:is |has |was )?bl(?:ew|own)\\b", "blown (?:shock|fork|damper|seal)"),
)
"""Damage to a part, and slips of the pen."""
_SLUDGE = (
    "(?:looks?|looked|came out|is|was) (?:just )?(?:like|as) (?:thin |grey |black )?(?:mud|tar|porridge|soup)\\b",
    *("sludg(?:e|y)\\b", "(?:wie|als) (?:schlamm|teer)", "ölschlamm", "comme (?:de la )?(?:boue|vase)"),
    *("como (?:el )?barro", "come (?:il )?fango", "fanghiglia"),
)
"""Oil that is no longer an oil."""
_SCRAP = (
    *("do not re-?use", "nicht wieder ?verwenden", "ne pas réutiliser", "no reutilizar", "non riutilizzare"),
    *("stop (?:riding|using)", "scrap(?:ped)?\\b", "(?<!t )(?<!i )(?<!to )(?<!not )recall(?:s|ed)?\\b"),
    *(
        "rückrufaktion",
        "rückruf\\W*$",
        "rückruf (?:vom|des) hersteller",
        "rappel (?:du )?(?:constructeur|fabricant|usine)",
    ),
    *("campagne de rappel", "llamada a revisión", "campagna di richiamo", "richiamo (?:del )?(?:costruttore|casa)"),
    *("schrott\\b", "chatarra", "à jeter", "da buttare"),
)

UNSURE: dict[str, tuple[str, ...]] = {
    "leak": (
        "damp seal",
        "seal(?:s)? damp",
        "joint spi humide",
        *_LEAK_HINTS,
        *OIL_OUTSIDE,
        *OIL_MISSING,
        *LEAK_SLIPS,
    ),
    "milky": (
        *("water (?:got |came )?in", "wasser (?:drin|eingedrungen)", "eau dans", "agua en", "acqua nel"),
        *(
            "creamy",
            "foamy",
            "foaming",
            "white foam\\b(?! ring)",
            "whitish",
            "moisture",
            "condensation",
            "water ?\\?",
            "(?<!.)water ?(?=$)",
        ),
        *("cloudy oil", "oil (?:is |was |looks |came out )?(?:very |a bit )?cloudy", "wei(?:ss|ß)lich", "schaumig"),
        *(
            "trübes öl",
            "öl (?:ist |war |sieht )?(?:sehr |etwas )?trüb",
            "feuchtigkeit",
            "kondenswasser",
            "milchkaffee",
        ),
        *(
            "huile (?:est )?(?:trouble|blanchâtre)",
            "blanchâtre",
            "humidité",
            "mousse blanche",
            "aceite (?:está )?turbio",
        ),
        *("blanquecin", "humedad", "espuma blanca", "café con leche", "olio (?:è )?torbido", "biancastr", "umidità"),
        *("schiuma bianca", "caffel?latte", "weisser schaum", "weißer schaum"),
    ),
    "burnt": ("smell(?:s|y|ed|ing)?\\b", "smelt\\b", "riecht", "odeur", "huele", "odore"),
    "warned": (
        *(
            "binding",
            "sticking",
            "stuck\\b",
            "nois(?:e|y)",
            "knock",
            "grind",
            "bent\\b",
            "broken",
            "loose\\b",
            "scored",
        ),
        *(
            "flakes",
            "slivers",
            "chips\\b",
            "inspect",
            "klemmt",
            "hakt\\b",
            "geräusch",
            "verbogen",
            "gebrochen",
            "späne",
        ),
        *("bruit", "cassé", "tordu", "bloqué", "jeu\\b", "paillettes", "ruido", "rot[oa]\\b", "doblad", "atascad"),
        *(
            "rumore",
            "rott[oa]\\b",
            "piegat",
            "bloccat",
            "scaglie",
            *_NOISES,
            *_WEAR,
            *_DAMAGE,
            *_SLUDGE,
            *_SCRAP,
            *PARTS_MISSING,
        ),
    ),
}
