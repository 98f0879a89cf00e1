"""What shops write above their columns in Dutch, Portuguese, Swedish and Polish, by the contract's column.

The commonest words only; accents and small words do not matter (see header_synonyms).
"""

from __future__ import annotations

DUTCH: dict[str, str] = {
    "unit_id": "vork, vorkpoot, voorvork, demper, schokdemper, eenheid, onderdeel",
    "drained_on": "datum, dag, olie ververst op, datum olieverversing, ververst op, servicedatum",
    "oil_hours": "uren, uur, draaiuren, rijuren, uren olie, olie uren, uren op olie, uren sinds verversing",
    "meter_hours": "urenteller, urenstand, tellerstand",
    "oil_grade": "olie, oliesoort, olietype, vorkolie",
    "filled_ml": "gevuld, ingevuld, olie in, vulhoeveelheid",
    "drained_ml": "afgetapt, olie uit",
    "settle_hours": "rusttijd, bezinktijd",
    "colour_rating": "kleur, oliekleur",
    "debris_rating": "slijtsel, metaaldeeltjes, vuil, deeltjes",
    "spring_type": "veer, veren, veertype, soort veer",
    "spring_hours": "uren veer, veer uren",
    "rider": "rijder, berijder, coureur",
    "rated_by": "beoordeeld door, monteur, beoordelaar",
    "site": "werkplaats, locatie, vestiging",
    "machine": "motorfiets",
    "note": "opmerking, opmerkingen, notitie, notities",
    "leak": "lekkage, lekt",
    "date": "datum, dag",
    "hours": "uren, rijuren, geplande uren",
}

PORTUGUESE: dict[str, str] = {
    "unit_id": "suspensão, garfo, bengala, amortecedor, unidade, componente",
    "drained_on": "data, dia, data da troca, data da mudança, trocado em, data do serviço",
    "oil_hours": "horas, horas de óleo, horas do óleo, horas óleo, horas desde a troca, horas de uso",
    "meter_hours": "horímetro, conta horas",
    "oil_grade": "óleo, tipo de óleo, óleo do garfo",
    "filled_ml": "enchido, óleo colocado, volume colocado",
    "drained_ml": "drenado, óleo retirado, volume retirado",
    "settle_hours": "repouso, tempo de repouso",
    "colour_rating": "cor, cor do óleo",
    "debris_rating": "limalha, limalhas, partículas, resíduos",
    "spring_type": "mola, molas, tipo de mola",
    "spring_hours": "horas da mola, horas mola",
    "rider": "piloto, condutor",
    "rated_by": "avaliado por, mecânico, avaliador",
    "site": "oficina, local",
    "machine": "mota, motocicleta",
    "note": "observação, observações, notas, obs",
    "leak": "fuga, vazamento",
    "date": "data, dia",
    "hours": "horas, horas previstas",
}

SWEDISH: dict[str, str] = {
    "unit_id": "gaffel, gaffelben, dämpare, stötdämpare, enhet",
    "drained_on": "datum, dag, bytt den, oljebyte, datum oljebyte",
    "oil_hours": "timmar, körtimmar, oljetimmar, timmar på oljan, körtid, timmar sedan byte",
    "meter_hours": "timräknare, mätarställning",
    "oil_grade": "olja, oljetyp, gaffelolja",
    "filled_ml": "påfyllt, olja in",
    "drained_ml": "avtappat, olja ut",
    "settle_hours": "vilotid, ståtid",
    "colour_rating": "färg, oljefärg",
    "debris_rating": "spån, metallspån, partiklar, smuts",
    "spring_type": "fjäder, fjädrar, fjädertyp",
    "spring_hours": "timmar fjäder, fjädertimmar",
    "rider": "förare, åkare",
    "rated_by": "bedömd av, mekaniker",
    "site": "verkstad, plats",
    "machine": "motorcykel",
    "note": "anteckning, anteckningar, anmärkning, kommentar",
    "leak": "läckage, läcker",
    "date": "datum, dag",
    "hours": "timmar, planerade timmar",
}

POLISH: dict[str, str] = {
    "unit_id": "widelec, goleń, laga, amortyzator, element",
    "drained_on": "data, dzień, data wymiany, data wymiany oleju, wymieniono",
    "oil_hours": "godziny, motogodziny, godziny oleju, godziny na oleju, czas jazdy, godziny od wymiany",
    "meter_hours": "licznik, stan licznika, licznik motogodzin",
    "oil_grade": "olej, rodzaj oleju, typ oleju",
    "filled_ml": "wlano, nalano",
    "drained_ml": "spuszczono, zlano",
    "settle_hours": "czas odstania, odstanie",
    "colour_rating": "kolor, barwa, kolor oleju, barwa oleju",
    "debris_rating": "opiłki, osad, cząstki, zanieczyszczenia",
    "spring_type": "sprężyna, sprężyny, typ sprężyny, rodzaj sprężyny",
    "spring_hours": "godziny sprężyny",
    "rider": "zawodnik, kierowca, jeździec",
    "rated_by": "ocenił, oceniła, mechanik",
    "site": "warsztat, miejsce",
    "machine": "motocykl",
    "note": "uwagi, notatki, uwaga",
    "leak": "wyciek, cieknie",
    "date": "data, dzień",
    "hours": "godziny, planowane godziny",
}

FURTHER_LANGUAGES = (DUTCH, PORTUGUESE, SWEDISH, POLISH)
