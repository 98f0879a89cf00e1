"""Words of a note that doubt a rating or a volume of its row, in the five languages of `safety_words.py`."""

from __future__ import annotations

import re

UNCERTAIN = (
    "(?:very |quite |sehr |très |muy |molto )?(?:unreliable|not reliable|uncertain|doubtful|questionable|guess(?:ed)?"
    "|estimated?|not sure|unsure|unsicher|unzuverlässig|fraglich|geschätzt|geraten|ungenau|incertaine?s?"
    "|douteu(?:x|se)|(?:peu|pas) fiable|estimée?s?|approximati(?:f|ve)|dudos[ao]|inciert[ao]|poco fiable"
    "|estimad[ao]|aproximad[ao]|incert[ao]|dubbi[ao]|inaffidabile|poco affidabile|stimat[ao]|approssimativ[ao])"
)
_IS = r"(?: (?:is|was|are|were|ist|war|sind|est|était|sont|es|son|era|è|sono))?"
_RATING = (
    "(?:ratings?|colou?r|debris|bewertung(?:en)?|farbe|abrieb|notation|couleur|limaille|valoración|color|virutas"
    "|valutazione|colore|trucioli)"
)
_HOURS = "(?:hours|hrs|stunden|std|heures|horas|ore)"
_METER = "(?:(?:hour ?)?meter|clock|counter|(?:stunden)?zähler|compteur|contador|horómetro|contaore)"
_FAILED = (
    "(?:stuck|broken|dead|defective|not working|does not work|did not work|doesn't work|didn't work|failed|stopped"
    "|defekt|kaputt|ausgefallen|hs|en panne|cassée?|bloquée?|roto|averiado|parado|rotto|guasto|fermo|bloccato)"
)
_FROM_A_PHOTO = (
    "(?:from|off|by|nach|anhand|vom|d'après|sur|por|de|da|su) (?:an? |the |einem |eines |une |una |la )?"
    "(?:photos?|pictures?|fotos?|bild(?:es)?|photographie|imagen|immagine)"
)
_BOTH = (
    "(?:both|the two|beide[rn]?|(?:les|des) deux|ambos|ambas|los dos|entramb[ie]) "
    "(?:legs|forks|sides|units|holmen?|gabeln|seiten|bras|fourches|barras|horquillas|lados|steli|forcelle|lati)"
)
_TOGETHER = (
    "(?:(?:in|into) (?:one|the same)|mixed|in einen|gemischt|dans le même|mélangées?|en el mismo|mezclad[oa]s?"
    "|nello stesso|mescolat[oe])"
)
_TO_COME = (
    "next|due|when|can|could|should|shall|nächst|wann|kann|soll|prochain|quand|peut|próxim|cuándo|puede|prossim|quando"
    "|può"
)
"""Words of a question about what is to come."""
CELL_IN_DOUBT = re.compile(
    rf"\b{_RATING}{_IS}:? {UNCERTAIN}\b"
    rf"|\b{_HOURS}{_IS}:? (?:unknown|not known|unbekannt|nicht bekannt|inconnues?|desconocidas?|sconosciute?)\b"
    rf"|\b{_METER}{_IS} (?:\w+ )?{_FAILED}\b|\b(?:broken|stuck|dead|defekter|kaputter) {_METER}\b"
    rf"|\b{_BOTH}\b[^.;]{{0,25}}\b{_TOGETHER}\b"
    rf"|\b{_RATING}{_IS} {_FROM_A_PHOTO}\b|\b{_FROM_A_PHOTO} (?:rated|bewertet)\b"
    rf"|\b(?:rated|bewertet|notée?|valorad[oa]|valutat[oa]) {_FROM_A_PHOTO}\b"
    r"|\b(?:rated|bewertet|notée?|valorado|valutato) (?:in the dark|(?:from|by) memory|without light|im dunkeln"
    r"|aus dem gedächtnis|dans le noir|de mémoire|a oscuras|de memoria|al buio|a memoria)\b"
    rf"|(?:^|[.;,])(?![^.;,?]*(?:{_TO_COME}))[^.;,?]*\b(?:hours|hrs|stunden|heures|horas|ore|date|datum|fecha|data|ratings?|bewertung|notation|valoración|valutazione)\b"
    r"[^.;,?]{0,40}\?"
    r"|\b(?:im dunkeln|aus dem gedächtnis) bewertet\b"
    r"|\b(?:bad|poor|dim|too little|no|schlechtem|schwachem|wenig|ohne|mauvaise|peu de|faible|poca|mala|scarsa)"
    r" (?:light|licht|lumière|luz|luce)\b(?! (?:oil|grade|weight|scratch))"
)
"""In small letters."""
_VOLUME = "(?:volumes?|amount|ml|(?:öl)?menge|volumen|quantité|cantidad|quantità)"
_OIL = "(?:oil|öl|(?:l')?huile|aceite|olio)"
VOLUME_IN_DOUBT = (
    r"(?i)\b(?:spil(?:led|t|lage)|verschüttet|daneben ?gelaufen|umgekippt|renversée?|derramad[ao]|rovesciat[ao])\b"
    r"|\b(?:knocked|tipped) (?:the )?(?:\w+ )?over\b|\bmissed the (?:jug|cup|beaker|tray|pan)\b"
    rf"|\b{_OIL}{_IS} (?:lost|verloren|perdue?|perdid[ao]|pers[ao]|versat[ao]) (?:while|when|during|before|at|on the"
    r"|beim|vor|pendant|avant|en|à la|al|antes|durante|prima|nel)\b"
    rf"|\b{_OIL} beim (?:\w+ ){{1,2}}verloren\b"
    rf"|\b(?:lost|spilling) (?:\w+ ){{0,3}}{_OIL} (?:while|when|during|before)\b"
    rf"|\b{_VOLUME}{_IS}:? {UNCERTAIN}\b"
)
"""For polars: oil was spilled at the bench, or a volume is doubtful."""
