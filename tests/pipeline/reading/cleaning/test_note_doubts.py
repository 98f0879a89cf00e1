"""A note that doubts a rating holds its row back; one that doubts a volume makes the volumes of its row unknown."""

import pytest

RATINGS = (
    *("rating unreliable", "colour was very doubtful", "debris: guessed", "rated in the dark", "rated from memory"),
    *("rated from photo", "anhand Foto bewertet", "colour from a picture", "both legs in one jug", "hours unknown"),
    *("oil from both legs mixed", "beide Holme in einen Becher", "meter not working since May", "Zähler defekt"),
    *("rating in bad light", "rated, but poor light", "bei schlechtem Licht bewertet", "notée avec peu de lumière"),
    *("con poca luz", "poca luce"),
    *("Bewertung unsicher", "Farbe geschätzt", "im Dunkeln bewertet", "couleur incertaine", "noté de mémoire"),
    *("stood too long, hours from another bike?", "Datum?", "heures de la F02 ?"),
    *("valoración dudosa", "color poco fiable", "valutazione incerta", "colore stimato", "valutato al buio"),
)
VOLUMES = (
    *("half of the oil spilled before rating", "oil lost while draining", "lost some oil while draining"),
    *("tipped the jug over", "volume unreliable", "missed the cup", "Hälfte verschüttet", "Menge ungenau"),
    *("etwas daneben gelaufen", "Öl beim Ablassen verloren", "moitié de l'huile renversée", "volume incertain"),
    *("huile perdue à la vidange", "aceite derramado", "volumen dudoso", "aceite perdido al vaciar"),
    *("olio versato prima", "olio rovesciato", "quantità stimata"),
)
OTHERS = (
    *(
        "colour dark",
        "good rating",
        "volume 350",
        "oil colour ok",
        "unreliable start",
        "no oil lost",
        "spring guessed",
        *("light oil", "no light oil left", "no lights at the track"),
        *("date for next service?", "Wann nächstes Datum?", "can it do 20 hours?"),
    ),
    *("Farbe dunkel", "Menge 350", "couleur foncée", "oil was lost in the post, new can"),
)


@pytest.mark.parametrize("note", RATINGS)
def test_a_rating_in_doubt_holds_its_row_back(check, note: str) -> None:
    log = check({}, {"drained_on": "2026-04-04", "note": note})
    assert log.held_back.select("line", "column").rows() == [(3, "note")]
    assert "doubts a cell" in log.held_back["reason"][0]


@pytest.mark.parametrize("note", VOLUMES)
def test_a_volume_in_doubt_is_asked_about_and_not_known_until_it_is_confirmed(check, note: str) -> None:
    row = {"drained_on": "2026-04-04", "note": note, "filled_ml": "350", "drained_ml": "345"}
    log = check({}, row)
    assert log.held_back.is_empty()
    assert log.asked.filter(column="note")["line"].to_list() == [3]
    assert log.accepted["drains"].sort("line")["volumes_in_question"].to_list() == [False, True]
    confirmed = check({}, row | {"confirmed": "yes"})
    assert not confirmed.accepted["drains"]["volumes_in_question"].any()
    assert check({}, row | {"drained_ml": None, "filled_ml": None}).asked.filter(column="note").is_empty()


def test_other_notes_doubt_nothing(check) -> None:
    rows = [
        {"drained_on": f"2026-04-{day:02d}", "note": note, "filled_ml": "350", "drained_ml": "345"}
        for day, note in enumerate(OTHERS, 1)
    ]
    log = check(*rows)
    assert log.held_back.is_empty()
    assert not log.accepted["drains"]["volumes_in_question"].any()
