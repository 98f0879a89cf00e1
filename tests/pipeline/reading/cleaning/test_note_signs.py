"""Safety words in notes: plain ones count, those that are denied do not, and the others are asked about."""

import polars as pl
import pytest

from draincurve.pipeline.reading.cleaning.note_signs import note_signs, signs_of_note, with_note_signs

PLAIN = {
    "leak": (
        *(
            "leaking seal",
            "Left seal leaks!",
            "fork leg weeping",
            "leak not fixed",
            "ok but leaking",
            "Simmerring undicht",
        ),
        *("tropft unten", "fuite joint spi", "pierde aceite", "perdita dal paraolio", "no milk, leaking"),
        *("Wasser im Oel, Oelaustritt", "verliert Oel", "Gabel verliert viel Oel", "Öl ausgetreten", "pas etanche"),
        *(
            "pérdida de aceite",
            "perdida de aceite",
            "no estanca",
            "non a tenuta",
            "perte d’huile",
            "joint spi fuyard",
        ),
        *("sifft", "nicht ganz dicht", "plus étanche", "no longer tight"),
        *("top cap sweating oil", "drip from lower", "seal seeping", "Simmerring schwitzt", "undicht, nicht behoben"),
    ),
    "milky": (
        *("milky! water in oil", "oil looks milky", "emulsified", "Öl milchig", "Wasser im Öl", "eau dans l’huile"),
        *("aceite lechoso", "acqua nell'olio", "oil came out like milk", "cafe au lait", "coffee with cream"),
        *("Wasser im Oel", "Wasser im Gabelöl", "mayo in the oil", "eau dans huile"),
        *("Öl wie Milch", "comme du lait", "como leche", "come latte"),
    ),
    "burnt": ("burnt smell", "Öl verbrannt", "huile brûlée", "aceite quemado", "olio bruciato"),
    "warned": (
        *(
            "do not use",
            "DON'T RIDE",
            "cracked lower",
            "metal flakes in tray",
            "unsafe",
            "nicht fahren",
            "Riss im Holm",
        ),
        *("ne pas rouler", "no usar", "non usare", "fissuré", "fork seized"),
        *("felé", "fêlure", "felure", "Haarriss im Fuß", "Risse", "metal chunk came out", "chunk of metal"),
        *("GEFAEHRLICH", "metallspaene", "eclats de metal"),
        *("stop riding", "nicht mehr fahren", "scrap this fork", "ne plus rouler", "non più usare", "schrottreif"),
    ),
}
ASKED = {
    "leak": (
        *("looks like seal leeking", "lowers wet with oil", "stanchion oily", "oil running down the leg"),
        *("leak fixed", "undicht behoben", "maybe leaking", "leak?", "replaced leaking seal", "fuite réparée"),
        *(
            "O-ring torn",
            "seals shot",
            "torn seal replaced",
            "oil on the tyre",
            "leckt nicht mehr",
            "stopped sweating oil",
        ),
        *("paraolio andato", "retén gastado", "seal lip torn", "puddle of oil", "oily stanchion", "oil film on leg"),
        *("oil ring under fork seal", "oil line on the stanchion", "Ölring am Standrohr"),
        *("Bremsscheibe verölt", "Gabelholm oelig", "huile sur le fourreau", "goutte", "suda", "aceite en la barra"),
        *("not dry", "no longer dry", "nicht mehr trocken", "was dry last time", "wet now", "non più asciutto"),
        *("joint spi déchiré", "guarnizione danneggiata", "retén dañado"),
    ),
    "milky": (
        *(
            "was milky last time",
            "water in again?",
            "peut-être laiteux",
            "white foam",
            "cloudy oil",
            "water?",
            "water !",
        ),
        *("weißlich-trüb", "moisture", "humidité", "aceite turbio", "olio torbido", "maybe like milk"),
    ),
    "burnt": ("smells", "riecht komisch"),
    "warned": (
        *("binding", "noise when compressed", "Gabel klemmt", "bruit", "broken axle", "inspect spring", "recall!"),
        *("aluminium swarf", "magnet full", "bushing play", "stiction", "it binds", "coating worn through"),
        *("ressort casse", "muelle partido", "rajada", "hairline in lower leg", "Standrohr verkratzt"),
        *("it clunks", "klackert", "had to stop riding (rain)", "holgura", "cigola", "revêtement usé"),
    ),
}
NOTHING = (
    *(
        "",
        "ok",
        "no leak",
        "no leaks",
        "not milky",
        "nicht undicht",
        "keine Undichtigkeit",
        "alles dicht",
        "pas de fuite",
    ),
    *("sin fugas", "nessuna perdita", "not leaking any more", "new seals, no leaks since", "without any leak"),
    *("wet race, much rain", "changed by Brask", "Lecker", "milkshake at the track", "water crossing"),
    *("play day", "no play", "coffee at the hut", "coffee with cream at the hut", "no moisture", "cloudy weather"),
    *("can't recall the hours", "I recall 12 h", "new white foam rings", "low stiction oil", "drip tray emptied"),
    *(
        "crack of dawn session",
        "burnt 2 laps",
        "Crackers rode well",
        "crackling exhaust",
        "not dry weather",
        "track wet now",
        "une goutte",
    ),
    *("gouttes de pluie", "partido de prueba", "perde tempo", "trocken", "sec", "puddle in the paddock"),
    *("sweating all day", "gloves worn through", "scraped a peg", "12 clicks out", "not like milk", "no clunk"),
    *(
        "Spieltag",
        "kein Spiel",
        "Rückruf beim Kunden",
        "new seals and wipers",
        "shot on video",
        "Kaffee an der Hütte",
    ),
)


@pytest.mark.parametrize(("sign", "note"), [(sign, note) for sign, notes in PLAIN.items() for note in notes])
def test_plain_words_count(sign: str, note: str) -> None:
    assert sign in signs_of_note(note).plain


@pytest.mark.parametrize(("sign", "note"), [(sign, note) for sign, notes in ASKED.items() for note in notes])
def test_unsure_words_are_asked_about(sign: str, note: str) -> None:
    signs = signs_of_note(note)
    assert sign in signs.unsure
    assert signs.plain == {}


@pytest.mark.parametrize("note", NOTHING)
def test_denied_words_and_others_say_nothing(note: str) -> None:
    signs = signs_of_note(note)
    assert (signs.plain, signs.unsure) == ({}, {})


def typed(*rows: tuple) -> pl.DataFrame:
    schema = {"_row": pl.UInt32, "note": pl.String} | dict.fromkeys(
        ("milky", "burnt", "leak", "confirmed"), pl.Boolean
    )
    return pl.DataFrame(rows, schema=schema, orient="row")


def test_a_plain_sign_counts_as_told_even_against_a_no() -> None:
    rows = typed(
        (0, "leaking", None, None, None, None), (1, "leaking", None, None, False, None), (2, None, *[None] * 4)
    )
    columns, _ = note_signs(rows["note"], rows, rows=rows["_row"])
    told = with_note_signs(pl.concat([rows, columns], how="horizontal"))
    assert told["leak"].to_list() == [True, True, None]
    assert told["milky"].to_list() == [None] * 3
    assert told["warned"].to_list() == [None] * 3
    assert told.columns == [*rows.columns, "warned", "signs_in_question"]


def test_what_a_note_may_mean_counts_until_it_is_answered() -> None:
    rows = typed(
        (0, "oil on stanchion", None, None, None, None),
        (1, "oil on stanchion", None, None, False, None),
        (2, "oil on stanchion", None, None, None, True),
        (3, "leak fixed", None, None, None, None),
        (4, "leak fixed?", None, None, None, None),
        (5, "noisy, smells", None, None, None, None),
    )
    columns, _ = note_signs(rows["note"], rows, rows=rows["_row"])
    told = with_note_signs(pl.concat([rows, columns], how="horizontal"))
    assert told["leak"].to_list() == [True, False, None, None, True, None]
    assert told["warned"].to_list() == [None] * 5 + [True]
    assert told["signs_in_question"].to_list() == ["leak", None, None, None, "leak", "burnt,warned"]


def test_a_blank_is_no_only_where_the_sign_is_ticked_and_no_is_never_written() -> None:
    def leaks(*typed_cells: bool | None) -> list[bool | None]:
        rows = typed(*((row, None, None, None, cell, None) for row, cell in enumerate(typed_cells)))
        columns, _ = note_signs(rows["note"], rows, rows=rows["_row"])
        return with_note_signs(pl.concat([rows, columns], how="horizontal"))["leak"].to_list()

    assert leaks(True, None) == [True, False]
    assert leaks(True, None, False) == [True, None, False]
    assert leaks(None, None) == [None, None]


def test_questions_are_silent_where_the_answer_is_there() -> None:
    rows = typed(
        (0, "leak fixed", None, None, None, None),
        (1, "leak fixed", None, None, False, None),
        (2, "leak fixed", None, None, None, True),
        (3, "do not use", None, None, None, None),
        (4, "do not use", None, None, None, True),
    )
    _, findings = note_signs(rows["note"], rows, rows=rows["_row"])
    found = pl.concat(findings).sort("row")
    assert found.select("row", "column", "kind").rows() == [(0, "leak", "asked"), (3, "note", "asked")]
    assert "inspect now" in found["message"][0]
    assert found["value"].to_list() == ["leak fixed", "do not use"]


@pytest.mark.parametrize("note", ["kaum undicht", "hardly leaking", "à peine de fuite"])
def test_a_sign_that_hardly_shows_is_unsure(note: str) -> None:
    signs = signs_of_note(note)
    assert "leak" in signs.unsure
    assert "leak" not in signs.plain


@pytest.mark.parametrize(
    "note", ["pas étanche", "no estanco", "not tight", "nicht dicht", "not dry", "nicht trocken"]
)
def test_what_is_not_tight_or_dry_leaks(note: str) -> None:
    signs = signs_of_note(note)
    assert "leak" in signs.plain.keys() | signs.possible


@pytest.mark.parametrize("note", ["perte d’huile", "Waser im Öl", "Ölaustritt", "no leak?", "pérdida de aceite"])
def test_a_note_with_a_sign_is_asked_about_in_a_log(check, note: str) -> None:
    assert check({"note": note}, {"drained_on": "2026-04-04"}).asked["line"].to_list() == [2]


def test_a_row_of_which_a_sign_is_asked_is_not_told_to_inspect_as_well(check) -> None:
    log = check({"note": "damp seal"}, {"note": "leaking seal", "drained_on": "2026-04-04"})
    asked = log.asked.filter(log.asked["column"] == "leak").sort("line")
    assert asked["line"].to_list() == [2, 3]
    assert asked["message"].str.starts_with("inspect now, whatever").to_list() == [False, True]


def test_a_warning_is_gone_only_where_its_writer_confirms_that() -> None:
    rows = typed(
        (0, "crack repaired", None, None, None, None),
        (1, "crack repaired", None, None, None, True),
        (2, "crack repaired, do not ride", None, None, None, True),
        (3, "fine", None, None, None, True),
    )
    columns, findings = note_signs(rows["note"], rows, rows=rows["_row"])
    assert columns["warned"].to_list() == [None, False, True, None]
    assert [finding["message"][0] for finding in findings if finding.height] == [
        "warning in the note, 'crack': is it gone? If so, write yes in a column headed confirmed"
    ]


@pytest.mark.parametrize(
    "note",
    ["stanchion pitted", "steering stop snapped", "tube rayé", "Kratzer im Standrohr", "crackt tube", "barra rayada",
     "rear shock blew on lap 3", "blown seal"],
)  # fmt: skip
def test_damage_to_a_part_is_asked_about(note: str) -> None:
    assert "warned" in signs_of_note(note).unsure


@pytest.mark.parametrize("note", ["seal weaping", "lost some oil", "losing oil", "hat Öl verloren"])
def test_a_misspelt_leak_and_oil_that_is_lost_are_asked_about(note: str) -> None:
    assert "leak" in signs_of_note(note).unsure


def test_oil_that_is_lost_at_the_bench_is_no_leak() -> None:
    assert not signs_of_note("lost some oil while draining").unsure
