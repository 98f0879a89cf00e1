"""What shops write above their columns in German, French, Spanish and Italian, by the contract's column.

Common words of the trade in each language; they have no single source. Accents and small words such as "de" or "der"
do not matter (see header_synonyms). A word that commonly stands for a day as well as for a volume is given for one of
them; the cells of the column then show whether it was the other.
"""

from __future__ import annotations

GERMAN: dict[str, str] = {
    "unit_id": "einheit, gabel, gabelnr, gabelnummer, gabelholm, holm, gabelbein, federbein, federbeinnr, "
    "dämpfer, daempfer, stoßdämpfer, bauteil, bauteilnummer, komponente, kennung, teilenummer, gabelkennung",
    "drained_on": "datum, tag, wechseldatum, ölwechsel am, oelwechsel am, datum ölwechsel, datum oelwechsel, "
    "ölwechseldatum, servicedatum, datum service, service am, abgelassen am, ablassdatum, wartungsdatum, datum "
    "wartung, gewechselt am, wechsel am, wartung am",
    "oil_hours": "stunden, std, ölstunden, oelstunden, öl std, oel std, öl h, oel h, stunden auf öl, stunden mit "
    "öl, std auf öl, std seit ölwechsel, fahrstunden, fahrzeit, laufzeit, betriebsstunden, bh, einsatzstunden, "
    "einsatzzeit, stunden seit ölwechsel, stunden seit wechsel, ölalter std, gefahrene stunden",
    "meter_hours": "zähler, zaehler, zählerstand, zaehlerstand, stundenzähler, betriebsstundenzähler, bh zähler, "
    "bh stand, bhz, stand zähler, stundenzählerstand, motorstunden",
    "oil_grade": "öl, oel, ölsorte, oelsorte, öltyp, gabelöl, gabeloel, ölbezeichnung, sorte, art öl, ölviskosität",
    "filled_ml": "eingefüllt, eingefuellt, füllmenge, fuellmenge, einfüllmenge, gefüllt, befüllt, menge ein, öl "
    "ein, oel ein, eingefüllte menge, menge eingefüllt, füllvolumen, ölmenge ein, ölmenge eingefüllt",
    "drained_ml": "abgelassen, ablassmenge, abgelassene menge, menge abgelassen, menge aus, öl aus, oel aus, "
    "altöl, altölmenge, ausgelassen, entleert, ausgelaufen, ölmenge aus, ölmenge abgelassen",
    "settle_hours": "absetzzeit, standzeit, absetzen, abgesetzt, gestanden, ruhezeit, setzzeit, absetzdauer",
    "colour_rating": "farbe, ölfarbe, oelfarbe, farbnote, farbton, farbwert, note farbe, bewertung farbe, färbung",
    "debris_rating": "abrieb, abriebnote, späne, spaene, metall, metallabrieb, metallspäne, partikel, schmutz, "
    "flitter, rückstände, verschmutzung, bewertung abrieb, note abrieb, note späne, bewertung späne",
    "spring_type": "feder, federn, federtyp, federart, verbaute feder, typ feder, art feder",
    "spring_hours": "federstunden, feder std, feder h, stunden feder, std feder, stunden auf feder, alter feder",
    "rider": "fahrer, fahrerin, fahrername, name fahrer",
    "rated_by": "bewertet von, beurteilt von, geprüft von, prüfer, bewerter, mechaniker, techniker, schrauber, "
    "kürzel, gesehen von",
    "surface": "untergrund, boden, gelände, belag, bodenart",
    "site": "werkstatt, standort, ort, stützpunkt",
    "machine": "motorrad, maschine, moped, fahrzeug, krad",
    "chamber": "kammer, ölkammer",
    "drain_method": "methode, ablassart, ablassmethode, ablassverfahren",
    "service_kind": "serviceart, wartung, wartungsart, art wartung, art service, art arbeit, arbeit",
    "new_parts": "neuteile, neue teile, ersatzteile, teile, getauschte teile, ersetzte teile, erneuert",
    "note": "notiz, notizen, bemerkung, bemerkungen, anmerkung, anmerkungen, kommentar, kommentare, hinweis, "
    "hinweise",
    "milky": "milchig, wasser, wasser im öl, emulsion",
    "burnt": "verbrannt, brandgeruch, riecht verbrannt, geruch, verbrannter geruch",
    "leak": "undicht, leck, leckage, tropft, undichtigkeit, simmerring undicht, ölverlust",
    "confirmed": "bestätigt, überprüft",
    "position": "lage, seite, einbauort",
    "fill_ml": "sollmenge, sollfüllmenge, ölmenge, füllmenge",
    "max_interval_h": "höchstintervall, intervallgrenze, max stunden, herstellergrenze",
    "max_oil_days": "höchstalter öl, max ölalter, max tage",
    "in_service": "im einsatz, in betrieb, aktiv",
    "date": "datum, tag, fahrtag, termin",
    "hours": "stunden, std, fahrstunden, fahrzeit, geplante stunden",
    "event": "ereignis, veranstaltung, rennen, anlass, termin name",
    "measured_on": "datum, messdatum, gemessen am, tag",
    "quantity": "messgröße, größe, was",
    "value": "wert, messwert, ergebnis",
    "unit": "einheit, maßeinheit",
    "component_hours": "stunden, std, laufzeit, stunden teil",
    "rebuilt_on": "überholt am, revision am, neu am",
}

FRENCH: dict[str, str] = {
    "unit_id": "unité, fourche, bras de fourche, bras, jambe, fourreau, amortisseur, combiné, composant, "
    "élément, suspension, code unité, repère",
    "drained_on": "date, jour, date vidange, date de la vidange, vidange le, vidangé le, vidange du, date "
    "entretien, date de service, fait le, date intervention",
    "oil_hours": "heures, heures huile, h huile, hrs huile, heures sur huile, heures d'utilisation, heures "
    "roulées, heures de roulage, temps de roulage, temps d'utilisation, durée, heures depuis vidange, heures "
    "depuis la dernière vidange, heures fourche, heures de marche",
    "meter_hours": "compteur, compteur horaire, compteur d'heures, horamètre, relevé compteur, heures compteur, "
    "heures moteur, index compteur",
    "oil_grade": "huile, type d'huile, grade d'huile, huile de fourche, huile utilisée, viscosité huile",
    "filled_ml": "rempli, remplissage, volume rempli, volume mis, huile mise, mis, versé, volume versé, quantité "
    "mise, volume huile neuve, volume de remplissage, huile versée, entrée",
    "drained_ml": "vidangé, vidange, volume vidangé, huile vidangée, quantité vidangée, récupéré, volume "
    "récupéré, huile récupérée, sorti, volume sorti, sortie",
    "settle_hours": "repos, temps de repos, décantation, temps de décantation, sédimentation",
    "colour_rating": "couleur, teinte, couleur de l'huile, note couleur, cotation couleur, aspect couleur",
    "debris_rating": "particules, limaille, copeaux, débris, métal, résidus, impuretés, note particules, note "
    "limaille, note débris, dépôt métallique, paillettes",
    "spring_type": "ressort, ressorts, type de ressort, ressort monté",
    "spring_hours": "heures ressort, h ressort, heures sur ressort, âge ressort",
    "rider": "pilote, conducteur, coureur, nom du pilote",
    "rated_by": "noté par, évalué par, contrôlé par, vu par, mécanicien, mécano, technicien, initiales, visa",
    "surface": "terrain, sol, type de terrain, revêtement",
    "site": "atelier, lieu, garage",
    "machine": "moto, machine, motocyclette",
    "chamber": "chambre, chambre d'huile",
    "drain_method": "méthode, méthode de vidange, mode de vidange",
    "service_kind": "type de service, type d'entretien, entretien, type d'intervention, intervention, opération",
    "new_parts": "pièces, pièces neuves, pièces remplacées, pièces changées",
    "note": "remarque, remarques, observation, observations, commentaire, commentaires",
    "milky": "laiteux, laiteuse, eau, eau dans l'huile, émulsion",
    "burnt": "brûlé, brûlée, odeur de brûlé, odeur, sent le brûlé",
    "leak": "fuite, fuites, suintement, fuit, joint fuyant, fuite joint",
    "confirmed": "confirmé, vérifié",
    "position": "côté, emplacement",
    "fill_ml": "volume prescrit, contenance, capacité, volume",
    "max_interval_h": "intervalle maximal, intervalle max, heures max, limite constructeur",
    "max_oil_days": "âge max huile, jours max",
    "in_service": "en service, actif",
    "date": "jour, date de sortie, date prévue",
    "hours": "heures, heures prévues, durée, heures roulées",
    "event": "événement, évènement, course, épreuve, manifestation",
    "measured_on": "date, mesuré le, date de mesure, jour",
    "quantity": "grandeur, mesure, quoi",
    "value": "valeur, résultat",
    "unit": "unité, unité de mesure",
    "component_hours": "heures, heures pièce",
    "rebuilt_on": "révisé le, refait le, neuf le",
}

SPANISH: dict[str, str] = {
    "unit_id": "unidad, horquilla, barra, barra de horquilla, botella, amortiguador, componente, elemento, "
    "suspensión, código unidad, código",
    "drained_on": "fecha, fecha de cambio, fecha cambio de aceite, fecha de vaciado, fecha de drenaje, día, "
    "fecha servicio, fecha de mantenimiento, cambiado el, cambio el, vaciado el",
    "oil_hours": "horas, horas aceite, h aceite, hrs aceite, horas con aceite, horas de uso, horas rodadas, "
    "horas de marcha, tiempo, tiempo de uso, horas desde cambio, horas desde el último cambio, horas uso aceite",
    "meter_hours": "contador, horómetro, cuentahoras, lectura contador, lectura horómetro, horas contador, horas "
    "motor",
    "oil_grade": "aceite, tipo de aceite, grado, grado aceite, aceite usado, aceite de horquilla, viscosidad aceite",
    "filled_ml": "llenado, volumen llenado, rellenado, cargado, volumen cargado, echado, volumen echado, aceite "
    "puesto, aceite echado, puesto, entrada, cantidad puesta",
    "drained_ml": "drenado, vaciado, volumen vaciado, volumen drenado, aceite drenado, aceite sacado, sacado, "
    "recuperado, extraído, volumen extraído, salida, cantidad sacada",
    "settle_hours": "reposo, tiempo de reposo, decantación, tiempo de decantación, sedimentación",
    "colour_rating": "color, color aceite, tono, nota color, valoración color",
    "debris_rating": "partículas, virutas, limaduras, residuos, metal, suciedad, nota partículas, valoración "
    "virutas, nota virutas, restos metálicos, restos",
    "spring_type": "muelle, muelles, tipo de muelle, resorte, resortes, tipo de resorte",
    "spring_hours": "horas muelle, h muelle, horas resorte, h resorte",
    "rider": "piloto, corredor, conductor, nombre piloto",
    "rated_by": "evaluado por, valorado por, revisado por, visto por, mecánico, técnico, iniciales",
    "surface": "terreno, suelo, superficie, tipo de terreno",
    "site": "taller, sede, lugar",
    "machine": "moto, máquina, motocicleta",
    "chamber": "cámara, cámara de aceite",
    "drain_method": "método, método de vaciado, modo de vaciado",
    "service_kind": "servicio, tipo de servicio, mantenimiento, tipo de mantenimiento, trabajo",
    "new_parts": "piezas, piezas nuevas, piezas cambiadas, recambios, repuestos",
    "note": "nota, notas, observación, observaciones, comentario, comentarios",
    "milky": "lechoso, lechosa, agua, agua en aceite, emulsión",
    "burnt": "quemado, quemada, olor a quemado, huele a quemado, olor",
    "leak": "fuga, fugas, pierde, pérdida, gotea, fuga retén",
    "confirmed": "confirmado, comprobado",
    "position": "posición, lado",
    "fill_ml": "capacidad, volumen, volumen prescrito",
    "max_interval_h": "intervalo máximo, horas máximas, límite fabricante",
    "max_oil_days": "días máximos, edad máxima aceite",
    "in_service": "en servicio, activo, en uso",
    "date": "fecha, día, fecha prevista",
    "hours": "horas, horas previstas, horas rodadas",
    "event": "evento, carrera, prueba",
    "measured_on": "fecha, medido el, fecha de medida, día",
    "quantity": "magnitud, medida, qué",
    "value": "valor, resultado",
    "unit": "unidad, unidad de medida",
    "component_hours": "horas, horas pieza",
    "rebuilt_on": "revisado el, nuevo el",
}

ITALIAN: dict[str, str] = {
    "unit_id": "unità, forcella, stelo, gambo, fodero, ammortizzatore, monoammortizzatore, componente, elemento, "
    "sospensione, codice unità, codice",
    "drained_on": "data, data cambio, data cambio olio, data scarico, data servizio, data tagliando, data "
    "manutenzione, giorno, cambiato il, scaricato il, cambio il",
    "oil_hours": "ore, ore olio, h olio, ore con olio, ore uso, ore utilizzo, ore di guida, ore girate, ore "
    "lavoro, ore dal cambio, ore dall'ultimo cambio, tempo, tempo uso, ore marcia",
    "meter_hours": "contaore, contatore, lettura contaore, ore contaore, ore motore",
    "oil_grade": "olio, tipo olio, gradazione, gradazione olio, grado olio, olio forcella, olio usato, viscosità "
    "olio",
    "filled_ml": "riempito, riempimento, volume riempito, immesso, volume immesso, versato, volume versato, olio "
    "messo, olio versato, olio immesso, carico, messo",
    "drained_ml": "scaricato, scarico, volume scaricato, olio scaricato, recuperato, volume recuperato, uscito, "
    "volume uscito, estratto, olio estratto",
    "settle_hours": "riposo, tempo di riposo, decantazione, tempo di decantazione, sedimentazione",
    "colour_rating": "colore, colore olio, tinta, voto colore, valutazione colore",
    "debris_rating": "particelle, trucioli, limatura, residui, metallo, detriti, sporco, voto particelle, "
    "valutazione detriti, voto trucioli, particelle metalliche",
    "spring_type": "molla, molle, tipo molla",
    "spring_hours": "ore molla, h molla, ore su molla",
    "rider": "pilota, conducente, corridore, nome pilota",
    "rated_by": "valutato da, controllato da, visto da, meccanico, tecnico, iniziali, sigla",
    "surface": "terreno, fondo, superficie, tipo di terreno",
    "site": "officina, sede, luogo",
    "machine": "moto, motociclo, macchina",
    "chamber": "camera, camera olio",
    "drain_method": "metodo, metodo di scarico, modo di scarico",
    "service_kind": "servizio, tipo servizio, tagliando, intervento, tipo intervento, manutenzione, lavoro",
    "new_parts": "ricambi, pezzi, pezzi nuovi, pezzi sostituiti, pezzi cambiati, parti nuove",
    "note": "nota, note, osservazioni, commento, commenti, appunti",
    "milky": "lattiginoso, lattiginosa, acqua, acqua nell'olio, emulsione",
    "burnt": "bruciato, odore di bruciato, puzza di bruciato, odore",
    "leak": "perdita, perdite, perde, trafila, trafilamento, perdita paraolio",
    "confirmed": "confermato, verificato",
    "position": "posizione, lato",
    "fill_ml": "capacità, volume, volume prescritto",
    "max_interval_h": "intervallo massimo, ore massime, limite costruttore",
    "max_oil_days": "giorni massimi, età massima olio",
    "in_service": "in servizio, attivo, in uso",
    "date": "data, giorno, data prevista",
    "hours": "ore, ore previste, ore girate",
    "event": "evento, gara, corsa, manifestazione",
    "measured_on": "data, misurato il, data misura, giorno",
    "quantity": "grandezza, misura, cosa",
    "value": "valore, risultato",
    "unit": "unità, unità di misura",
    "component_hours": "ore, ore pezzo",
    "rebuilt_on": "revisionato il, nuovo il",
}

LANGUAGES = (GERMAN, FRENCH, SPANISH, ITALIAN)

SMALL_WORDS = (
    "the a of de du des d la le les l der die das den dem del della dello dell dall nell di dei el los las il lo i "
    "gli al alla im vom zum für pour para per"
)
"""Articles and prepositions that a header may have or lack; "on", "in" and "out" are none, since they matter."""

NUMBER_WORDS = "no nr n num number numero nummer id code"
"""Words for a number that a header may have or lack: Fork No, Gabel-Nr., N° fourche."""
