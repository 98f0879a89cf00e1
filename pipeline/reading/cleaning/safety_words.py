"""Words of a note that call for an inspection, in English, German, French, Spanish and Italian.

Common words of the bench, without a single source. Each is a regular expression that is matched from the beginning of
a word. PLAIN words mean an inspection now where nothing near them denies it; UNSURE ones are asked about.
"""

from __future__ import annotations

INSPECT_NOW = "inspect now, whatever the interval"
"""What a finding says of a sign that is stated, so that there is nothing to answer."""

_SEALS = "(?:o[ -]?ring|(?:oil |dust |fork |shaft )?seal|wiper|gasket)s?"
_WET_PARTS = "(?:seal|cap|top cap|bolt|leg|lower|stanchion|valve|shaft|wiper|adjuster)s?"
_COATING = "(?:hard )?(?:coating|coat|anodi[sz]ing|plating|chrome)"
_NO_BREAK = "(?! (?:at|in|before|after|with|break))"
"""Behind a drink that oil may look like: words that say that it was drunk."""

PLAIN: dict[str, tuple[str, ...]] = {
    "leak": (
        *(
            "leak(?:s|y|ing|ed|age)?\\b",
            "weep(?:s|y|ing)?\\b",
            "wet seal",
            "seal(?:s)? (?:is |are )?wet\\b",
            "blown seal",
        ),
        *(
            "seal(?:s)? (?:is |are )?blown",
            "drip(?:s|ping)\\b",
            "undicht",
            "leck(?:t|age)?\\b",
            "ölverlust",
            "tropft\\b",
        ),
        *(
            "simmerring (?:nass|defekt)",
            "fuite",
            "fuit\\b",
            "suint",
            "fuga(?:s)?\\b",
            "pierde\\b",
            "gotea",
            "perdita\\b",
        ),
        *("(?:nicht|pas|non|no) (?:mehr )?(?:ganz )?(?:dicht|étanche|estanco|stagno)\\b", "not tight\\b"),
        *("perdite\\b", "perde (?:olio|dal)", "trafila", "gocciola", "trasuda", "rezuma", "suda aceite"),
        *(
            "seep(?:s|ing|age)?\\b",
            "sweat(?:s|ing)? oil",
            f"{_WET_PARTS} (?:is |are )?sweat(?:s|ing)\\b",
            "schwitzt öl",
        ),
        *(
            "drip\\b(?![ -]tray)",
            "(?:simmerring|dichtung|dichtring|holm)e? schwitzt",
            "verliert öl",
            "perd de l'huile",
        ),
    ),
    "milky": (
        *("milky", "water in (?:the )?oil", "water in it\\b", "emulsi", "mayonnaise", "milchig", "wasser im öl"),
        *(
            "wasser in der gabel",
            "emulgiert",
            "laiteu",
            "eau dans l'?huile",
            "émulsi",
            "lechos",
            "agua en (?:el )?aceite",
        ),
        *("lattiginos", "acqua nell'?olio", "like (?:white )?(?:milk|coffee|cream|cappuccino|latte)\\b", "wie milch"),
        *(f"caf[eé] au lait\\b{_NO_BREAK}", f"coffee (?:with|and) (?:cream|milk)\\b{_NO_BREAK}", "comme du lait"),
        *("coffee[ -]colou?r", "milk[ -]coloured", "milk in the oil", "öl wie kaffee", "couleur café au lait"),
        *("como (?:la )?leche", "color café con leche", "come (?:il )?latte\\b", "color caff", "colore caff"),
    ),
    "burnt": (*("burnt\\b", "burned\\b", "verbrannt", "brandgeruch", "brûlé", "brule\\b", "quemad", "bruciat"),),
    "warned": (
        *("do not (?:use|ride|fit|run)", "don'?t (?:use|ride|fit|run)", "must not be (?:used|ridden)", "unsafe\\b"),
        *(
            "not safe",
            "dangerous",
            "crack(?:s|ed)?\\b",
            "metal (?:flakes|chips|chunks|slivers|pieces)",
            "flakes of metal",
        ),
        *("seized", "out of service", "nicht (?:benutzen|fahren|verwenden|einbauen)", "gesperrt", "gefährlich"),
        *("riss\\b", "rissig", "gerissen", "metallspäne", "metallflocken", "ne pas (?:utiliser|rouler|monter)"),
        *(
            "dangereu",
            "fissur",
            "copeaux",
            "éclats de métal",
            "no (?:usar|utilizar|rodar|montar)",
            "peligros",
            "griet",
        ),
        *("agrietad", "virutas", "non (?:usare|utilizzare|guidare|montare)", "pericolos", "crepa", "incrinat"),
        *(
            "trucioli",
            "scaglie di metallo",
            "grippat",
            "(?<!to )stop (?:riding|using)",
            "scrap (?:this|that|the|it)\\b",
        ),
        *("nicht (?:mehr|weiter) ?(?:fahren|benutzen|verwenden|einbauen)", "verschrotten", "schrottreif"),
        *(
            "ne plus (?:utiliser|rouler|monter)",
            "arrêter de rouler",
            "(?:au|mettre au) rebut",
            "dejar de (?:usar|rodar)",
        ),
        *("no volver a (?:usar|rodar|montar)", "non (?:più )?(?:usare|utilizzare|guidare|montare)", "rottamare"),
    ),
}

_LEAK_HINTS = (
    *("oil on (?:the )?(?:leg|tube|stanchion|tyre|tire|disc|caliper|brake|wheel|lower|fender)", "damp wiper"),
    *(f"{_SEALS} (?:is |are |was |were )?(?:torn|shot|split|cut|damaged|perished)\\b", "schwitzt"),
    *(f"(?:torn|split|damaged|perished) {_SEALS}\\b", "öl (?:am|auf dem) (?:standrohr|reifen|holm|tauchrohr)"),
    *("(?:simmerring|dichtung|dichtring|o-?ring)e? (?:ist |sind )?(?:kaputt|beschädigt|hin|defekt|gerissen)\\b",),
    *("joint (?:spi |torique )?(?:déchiré|abîmé|mort|hs)\\b", "huile sur le (?:tube|pneu|plongeur|disque)"),
    *("(?:retén|retenes|junta|tórica) (?:roto|rota|rasgad|dañad)", "aceite en (?:la barra|el neumático|el disco)"),
    *(
        "(?:paraolio|guarnizione|o-?ring) (?:rott|strappat|rovinat|danneggiat)",
        "olio sul(?:lo stelo|la gomma| disco)",
    ),
)
_LEAK_SLIPS = (
    "(?:leek|leack|laek|lekk?|weap)(?:s|y|ing|ed|age)?\\b",
    f"{_WET_PARTS} (?:is |are |was |were )?(?:all )?oily\\b",
    "(?:wet|damp|covered) (?:with|in) oil",
    "oil (?:is |was )?(?:coming|running) (?:out|down|past)",
)
"""Common slips of the pen, and oil where none should be."""
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
        "zerkratzt",
        "riefen?\\b",
        "eingedellt",
        "abgebrochen",
        "abgerissen",
        "rayé",
        "rayure",
        "rayad",
        "arañad",
    ),
    *("abollad", "graffiat", "rigat[oaie]\\b", "ammaccat", "crack[a-z]", "crak", "krack"),
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
    "leak": ("damp seal", "seal(?:s)? damp", "joint spi humide", *_LEAK_HINTS, *_LEAK_SLIPS),
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
    "burnt": ("smell(?:s|y)?\\b", "riecht", "odeur", "huele", "odore"),
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
        *("rumore", "rott[oa]\\b", "piegat", "bloccat", "scaglie", *_NOISES, *_WEAR, *_DAMAGE, *_SLUDGE, *_SCRAP),
    ),
}

DENIED = (
    "no not never without free none nothing isn't isnt wasn't aren't doesn't nicht kein keine keinen keiner ohne nie "
    "pas sans aucun aucune jamais sin ni ningún ninguna nunca non senza nessun nessuna mai zero"
)
"""Words before a sign that deny it: no leak, nicht undicht, pas de fuite."""
DENIED_BEHIND = "nicht pas plus"
"""Words directly behind a sign that deny it, or begin something else: leckt nicht."""

SETTLED = (
    "fixed repaired cured stopped replaced resealed sealed "
    "solved gone dry renewed behoben repariert ersetzt getauscht "
    "erneuert abgedichtet dicht réparé réparée remplacé remplacée "
    "changé changée corrigé résolu reparado reparada cambiado "
    "cambiada sustituido resuelto riparato riparata sostituito sostituita cambiato cambiata risolto risolta"
)
"""Words that say that a sign is gone; whether it is is asked."""

DOUBTED = (
    "hardly barely scarcely kaum peine apenas appena "
    "maybe perhaps possible possibly suspected slight? check checked test tested last previously before if watch "
    "vielleicht evtl eventuell prüfen geprüft früher falls peut-être vérifier contrôlé avant si quizás revisar antes "
    "forse verificare controllare prima se"
)
"""Words that make a sign unsure."""
