from draincurve.pipeline.judging.springs.spring_comparison import SpringComparison, SpringPair
from draincurve.pipeline.judging.springs.spring_verdicts import CANNOT_TELL, SHEDS_MORE
from draincurve.reports.tables.text_tables import SPRING_NOTES, spring_lines


def pair(name, verdict, p_value, needed):
    return SpringPair(
        name, "Plain", 0.5, 0.4, 0.6, p_value, p_value, p_value, verdict, 40, 6, 1, 1, needed, f"{name} because."
    )


def test_pairs_are_in_columns_with_reasons_below():
    pairs = (pair("Stepped", SHEDS_MORE, 0.0001, None), pair("Lone", CANNOT_TELL, None, 30))
    lines = spring_lines(
        [
            SpringComparison("debris", pairs, ("Lone was in one unit.",), ("Coil: inner.",), None),
            SpringComparison("colour", (), (), (), "nothing to compare"),
        ]
    )
    assert lines[0] == "debris:"
    head, first, second = lines[1:4]
    assert head.index("verdict") == first.index("sheds more") == second.index("cannot tell yet")
    assert head.index("p units") == first.rindex("<0.001")
    assert first.endswith("-")
    assert second.endswith("30")
    assert lines[4:] == [
        "  Stepped against Plain: Stepped because.",
        "  Lone against Plain: Lone because.",
        "  caution: Lone was in one unit.",
        "  left out: Coil: inner.",
        "colour:",
        "  nothing to compare",
        *SPRING_NOTES,
    ]
    assert spring_lines([SpringComparison("colour", (), (), (), "nothing to compare")])[-1] == "  nothing to compare"
