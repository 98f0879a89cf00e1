"""Words of a note that call for an inspection, in English, German, French, Spanish and Italian.

Common words of the bench, without a single source. Each is a regular expression that is matched from the beginning of
a word. They mean an inspection now where nothing near them denies it; others are in `unsure_words.py`.
"""

from __future__ import annotations

INSPECT_NOW = "inspect now, whatever the interval"
"""What a finding says of a sign that is stated, so that there is nothing to answer."""

WET_PARTS = "(?:seal|cap|top cap|bolt|leg|lower|stanchion|valve|shaft|wiper|adjuster)s?"
_NO_BREAK = "(?! (?:at|in|before|after|with|break))"
"""Behind a drink that oil may look like: words that say that it was drunk."""
_NOT_OIL = "(?! (?:\\d+|a few|two|three|some|many) (?:laps|hours|litres)| rubber)"
"""Behind "burnt": what else a rider burns."""

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
            "öl(?:austritt| (?:ist |war )?ausgetreten| tritt aus)",
            "siff(?:t|en)\\b",
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
        *(
            "(?:nicht|pas|plus|non|no) (?:mehr |più |ya |è |está )?(?:ganz )?"
            "(?:dicht|étanche|estanc[oa]|stagno|a tenuta)\\b",
            "(?:not|no longer) tight\\b",
        ),
        *("perdite\\b", "perde (?:olio|dal)", "trafila", "gocciola", "trasuda", "rezuma", "suda aceite"),
        *(
            "seep(?:s|ing|age)?\\b",
            "sweat(?:s|ing)? oil",
            f"{WET_PARTS} (?:is |are )?sweat(?:s|ing)\\b",
            "schwitzt öl",
        ),
        *(
            "drip\\b(?![ -]tray)",
            "(?:simmerring|dichtung|dichtring|holm)e? schwitzt",
            "verliert (?:\\w+ ){0,2}öl",
            "perd de l'huile",
            "pertes? (?:d')?huile",
            "fuyards?\\b",
            "p[ée]rdidas? de aceite",
        ),
    ),
    "milky": (
        *(
            "milky",
            "water in (?:the )?oil",
            "water in it\\b",
            "emulsi",
            "mayonnaise",
            "milchig",
            "wasser im (?:gabel)?öl",
            "mayo in (?:the )?oil",
        ),
        *(
            "wasser in der gabel",
            "emulgiert",
            "laiteu",
            "eau dans (?:l'?)?huile",
            "émulsi",
            "lechos",
            "agua en (?:el )?aceite",
        ),
        *("lattiginos", "acqua nell'?olio", "like (?:white )?(?:milk|coffee|cream|cappuccino|latte)\\b", "wie milch"),
        *(f"caf[eé] au lait\\b{_NO_BREAK}", f"coffee (?:with|and) (?:cream|milk)\\b{_NO_BREAK}", "comme du lait"),
        *("coffee[ -]colou?r", "milk[ -]coloured", "milk in the oil", "öl wie kaffee", "couleur café au lait"),
        *("como (?:la )?leche", "color café con leche", "come (?:il )?latte\\b", "color caff", "colore caff"),
    ),
    "burnt": (*(f"burn(?:t|ed)\\b{_NOT_OIL}", "verbrannt", "brandgeruch", "brûlé", "brule\\b", "quemad", "bruciat"),),
    "warned": (
        *("do not (?:use|ride|fit|run)", "don'?t (?:use|ride|fit|run)", "must not be (?:used|ridden)", "unsafe\\b"),
        *(
            "not safe",
            "dangerous",
            "crack(?:s|ed)?\\b(?! of (?:dawn|noon))",
            "fel(?:e|é|ée|ure)s?\\b",
            "metal (?:flake|chip|chunk|sliver|piece)s?\\b",
            "(?:flake|chunk|piece)s? of metal",
        ),
        *("seized", "out of service", "nicht (?:benutzen|fahren|verwenden|einbauen)", "gesperrt", "gefährlich"),
        *(
            "(?:haar|spannungs|ermüdungs)?risse?n?\\b",
            "rissig",
            "gerissen",
            "metallspäne",
            "metallflocken",
            "ne pas (?:utiliser|rouler|monter)",
        ),
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
