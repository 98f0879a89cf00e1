"""A denial counts where it stands with its sign and nothing takes it back; else the sign is asked about."""

from __future__ import annotations

import pytest

from draincurve.pipeline.reading.cleaning.denials import denial_of
from draincurve.pipeline.reading.cleaning.note_signs import signs_of_note

NO_DENIAL = (
    *("no leak?", "no idea why it leaks", "no good: leak", "no leaks... until today", "without leak until lap 3"),
    *("not leak free", "not without leaks", "no longer leak-free", "never seen such a leak", "no more leak? check"),
    *("Kein Wunder dass sie leckt", "keine Ahnung woher die Undichtigkeit", "no se por que pierde", "hope no leak"),
    *("non so perché perde", "je ne sais pas pourquoi ça fuit", "links kein Leck, rechts schon", "no new seal leaks"),
    *("presque pas de fuite", "quasi nessuna perdita", "fast kein Leck", "no big leak", "not only leaking"),
    *("pas sans fuite", "non senza perdite", "nicht ohne Leck", "leak free: no", "moves free leaks"),
    *("no leak left leg right leg leaks", "no time today seal leaks", "no leak before lap 3", "not sure if it leaks"),
    *(
        "seal no 3 leaks",
        "no grease in seal leaks",
        "could not find the leak",
        "ne fuit que sous charge",
        "no, leaks",
    ),
    *("noch undicht", "kein Öl mehr da undicht", "leak no smell no", "kein Leck, außer rechts", "nicht leckfrei"),
    *("no pierde mucho", "does not leak much", "never free of leaks", "no longer free of leaks", "fuga no reparada"),
    *(
        "undicht? nein, doch",
        "leak? no, yes",
        "fuite? non, si",
        "fuga? no, sí",
        "perdita? no, anzi sì",
        "no leak, doch",
    ),
    *("leak check not ok", "leaking ok", "leaks, ok", "slow leak ok", "it leaks - ok", "leak - left side", "leak? -"),
    *("no more dry", "perdita non riparata", "pas de fuite sauf à droite", "no question it leaks"),
)
DENIED = (
    *("leak ok", "leak check ok", "leak test: passed", "leaks: 0", "leak -", "leak: –", "fuite: ok", "fuga ok"),
    *("prova perdite ok", "contrôle de fuite ok", "no leak, ok", "Leck: 0", "oil leak check - ok"),
    *("leak: no", "leak = no", "leak: none", "leaks none", "Leck: nein", "undicht: nein", "fuite: non", "fuga no"),
    *("perdita no", "crack: no", "Riss: keiner", "fissure: aucune", "grieta: no", "burnt: no", "milky no"),
    *("Leckage keine", "leak left: none", "leak? no", "leckt nicht", "leckt überhaupt nicht", "ne fuit pas du tout"),
    *(
        "non-leaking",
        "does not leak",
        "ne fuit pas",
        "non perde olio",
        "leak-free",
        "leakfree",
        "crack-free",
        "rissfrei",
    ),
    *(
        "weder Leck noch Riss",
        "né perdite né crepe",
        "ni fuite ni fissure",
        "neither leak nor crack",
        "free of leaks",
    ),
    *("checked for leaks: none", "no visible signs of leakage", "keine Spur von Wasser im Öl", "no leaks or cracks"),
    *("no leak no crack", "no grinding noise", "no burnt smell", "non c'è nessuna perdita", "no hay ninguna fuga"),
    *("no leak so far", "left: no leak", "n'est pas fissuré", "pas d'eau dans l'huile", "kein Leck mehr"),
    *("no unusual noise", "no presenta fugas", "no leak after 20 h", "leaks: 0", "no leak, no dry joints"),
)


@pytest.mark.parametrize("note", NO_DENIAL)
def test_what_is_not_denied_counts_until_it_is_answered(note: str) -> None:
    signs = signs_of_note(note)
    assert "leak" in signs.plain.keys() | signs.possible


@pytest.mark.parametrize("note", DENIED)
def test_what_is_denied_says_nothing(note: str) -> None:
    signs = signs_of_note(note)
    assert (signs.plain, signs.unsure) == ({}, {})


@pytest.mark.parametrize("note", ["leak no worse", "leak no smaller", "leak not found yet", "Leck nicht behoben"])
def test_a_denial_of_something_else_behind_a_sign(note: str) -> None:
    assert "leak" in {**signs_of_note(note).plain, **signs_of_note(note).unsure}


def test_two_denials_agree_in_some_languages_and_not_in_others() -> None:
    assert denial_of("no hay ninguna fuga", 15, 19) == "sure"
    assert denial_of("there is not no leak", 16, 20) == "unsure"


def test_the_other_sign_of_a_note_is_not_denied_as_well() -> None:
    assert "warned" in signs_of_note("no leak cracked lower").unsure
    assert "leak" in signs_of_note("kein Riss, undicht").plain
