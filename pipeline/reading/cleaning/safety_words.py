"""Words of a note that call for an inspection, in English, German, French, Spanish and Italian.

Common words of the bench, without a single source. Each is a regular expression that is matched from the beginning of
a word. PLAIN words mean an inspection now where nothing near them denies it; UNSURE ones are asked about.
"""

from __future__ import annotations

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
        *("perdite\\b", "perde (?:olio|dal)", "trafila", "gocciola"),
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
        *("lattiginos", "acqua nell'?olio"),
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
        *("trucioli", "scaglie di metallo", "grippat"),
    ),
}

UNSURE: dict[str, tuple[str, ...]] = {
    "leak": ("damp seal", "seal(?:s)? damp", "oil on (?:the )?(?:leg|tube|stanchion)", "joint spi humide"),
    "milky": (
        *("water (?:got |came )?in", "wasser (?:drin|eingedrungen)", "eau dans", "agua en", "acqua nel"),
        *("creamy", "foamy"),
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
        *("rumore", "rott[oa]\\b", "piegat", "bloccat", "scaglie"),
    ),
}

DENIED = (
    "no not never without free none nothing isn't isnt wasn't aren't doesn't nicht kein keine keinen keiner ohne nie "
    "pas sans aucun aucune jamais sin ni ningún ninguna nunca non senza nessun nessuna mai zero"
)
"""Words before a sign that deny it: no leak, nicht undicht, pas de fuite."""

SETTLED = (
    "fixed repaired cured stopped replaced resealed sealed "
    "solved gone dry renewed behoben repariert ersetzt getauscht "
    "erneuert abgedichtet dicht réparé réparée remplacé remplacée "
    "changé changée corrigé résolu reparado reparada cambiado "
    "cambiada sustituido resuelto riparato riparata sostituito sostituita cambiato cambiata risolto risolta"
)
"""Words that say that a sign is gone; whether it is is asked."""

DOUBTED = (
    "maybe perhaps possible possibly suspected slight? check checked test tested last previously before if watch "
    "vielleicht evtl eventuell prüfen geprüft früher falls peut-être vérifier contrôlé avant si quizás revisar antes "
    "forse verificare controllare prima se"
)
"""Words that make a sign unsure."""
