"""Words of a note that say that a part is missing, in the five languages of `safety_words.py`; it is asked about."""

from __future__ import annotations

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
MISSING = (
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
