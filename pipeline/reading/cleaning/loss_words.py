"""Words of a note for oil that is outside, and for oil or parts that are missing; they are asked about.

The five languages are those of `safety_words.py`.
"""

from __future__ import annotations

from draincurve.pipeline.reading.cleaning.safety_words import WET_PARTS

_WEATHER = "(?! (?:weather|track|day|road|race|season|lake|joint|spot|run))"
OIL_OUTSIDE = (
    *(
        "puddle (?:of oil|under)",
        "oil(?:y)? (?:puddle|film (?:on|around)|everywhere|all over)",
        "film of oil",
        f"oily {WET_PARTS}\\b",
        "oily? (?:ring|line|mark|stain|trace)s? (?:on|at|under|below|round|around|by) (?:the )?(?:fork )?"
        f"{WET_PARTS}\\b",
    ),
    *(
        "verölt",
        "(?:\\w*holm|\\w*rohr|reifen)e? (?:ist |sind )?(?:\\w+ )?ölig",
        "öl(?:film|pfütze|spur|rand|ring (?:am|an|unter|um)\\b)",
        "(?<!une )goutte\\b(?! à)",
    ),
    *("(?:film|flaque|traces?) d'huile", "(?:charco|película) de aceite", "suda\\b", "(?:pozza|velo) d'olio"),
    "(?:not|no longer|nicht|pas|plus|no|non) (?:mehr |ganz |more |está |è |più )?"
    f"(?:dry\\b{_WEATHER}|trocken|sec\\b|sec[oa]\\b|asciutt)",
    *("(?:was|were) dry (?:last|before|until|till)\\b", "(?<![a-z] )wet (?:now|again)\\b(?=$)"),
)
"""Oil where none should be."""
OIL_MISSING = (
    "seals? (?:is |are )?(?:starting|about) to (?:go|leak)",
    "(?:oil level|level|oil) (?:is |was )?(?:very |too )?low\\b",
    "(?:low|hardly any|very little|almost no) oil\\b(?! (?:temp|press|price))",
    "only \\d+ ?(?:ml|cc) (?:came |of oil )?(?:out|left)",
    "(?:ölstand|öl) (?:ist |war )?(?:zu |sehr )?niedrig",
    "(?:zu wenig|kaum|fast kein) öl\\b",
    "nur \\d+ ?ml (?:he)?raus",
    "niveau (?:d'huile )?(?:trop |très )?bas\\b",
    "(?:il )?manqu(?:e|ait) (?:de l'|d')huile",
    "nivel (?:de aceite )?(?:muy |demasiado )?bajo",
    "faltaba aceite",
    "livello (?:dell'olio |olio )?(?:troppo |molto )?basso",
    "mancava (?:dell'|l')?olio",
    "perte\\b(?! de)",
)
"""Less oil than there should be."""
LEAK_SLIPS = (
    "perde\\b(?! (?:aria|tempo|colpi))",
    "(?:not|no longer|nicht|nicht mehr) (?:leak|leck)fre[ei]\\b",
    "(?:leek|leack|laek|lekk?|weap)(?:s|y|ing|ed|age)?\\b",
    f"{WET_PARTS} (?:is |are |was |were )?(?:all )?oily\\b",
    "(?:wet|damp|covered) (?:with|in) oil",
    "oil (?:is |was )?(?:coming|running) (?:out|down|past)",
    "los(?:t|es|ing) (?:\\w+ ){0,2}oil\\b(?! (?:while|when|during|before|at|in|can))",
    "öl verloren\\b(?! (?:beim|in))",
)
"""Common slips of the pen, and oil that runs."""
_PARTS = (
    "(?:dust |oil |fork |main |top )?(?:seals?|caps?|wipers?|clips?|circlips?|bolts?|screws?|nuts?|washers?"
    "|o-?rings?|bush(?:es|ings?)?|gaskets?)"
)
_TEILE = "\\w*(?:kappe|dichtung|dichtring|simmerring|abstreifer|clip|schraube|mutter|scheibe|o-?ring|buchse|ring)n?"
_PIECES = (
    "(?:le |la |les |un |une )?(?:joint|cache|bouchon|racleur|vis|écrou|rondelle|circlip|clip|bague)"
    "(?:[ -](?:spi|torique|poussière|de \\w+))?"
)
_PIEZAS = "(?:guardapolvo|retén|tapón|tornillo|tuerca|arandela|junta|tórica|casquillo|clip|anillo)s?"
_PEZZI = "(?:parapolvere|paraolio|tappo|vite|dado|rondella|guarnizione|boccola|seeger|anello|o-?ring)"
PARTS_MISSING = (
    f"{_PARTS} (?:is |are |was |were )?(?:missing|lost|gone\\b|not there)",
    f"(?:missing|lost) {_PARTS}\\b",
    f"{_TEILE} (?:fehlt|fehlen|verloren|weg\\b|nicht da)",
    f"(?:fehlt|fehlen|fehlende[rs]?) (?:die |der |das |eine? )?{_TEILE}\\b",
    f"{_PIECES} (?:est )?(?:manquante?|absente?|perdue?)",
    f"(?:manque|il manque) {_PIECES}",
    f"(?:falta|faltan|sin) (?:el |la |los |las |un |una )?{_PIEZAS}\\b",
    f"{_PIEZAS} (?:falta|perdid)",
    f"(?:manca|mancano|senza) (?:il |la |lo |l'|i |le |un |una )?{_PEZZI}\\b",
    f"{_PEZZI} (?:manca|mancante|pers[ao])",
)
"""A part that should be there."""
