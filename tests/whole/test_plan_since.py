"""`plan --since`: what changed since an earlier output folder, in record and page, and aloud where rows are gone."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from small_logs import AS_OF, drain, simple_log


def test_what_changed_since_an_earlier_folder(run, write) -> None:
    before = run("plan", write("a.csv", simple_log(3, 4)), "--as-of", "2026-06-19", page=False)
    rows = [*simple_log(3, 4)[:-1], drain("NEW", date(2026, 6, 1), 9.0), drain("NEW", date(2026, 6, 12), -1)]
    now = run("plan", write("b.csv", rows[1:-1]), "--as-of", AS_OF, "--since", before.folder, pictures=False)
    changes = now.record()["changes"]
    assert (changes["since"], changes["as_of"]) == ("2026-06-19", AS_OF)
    assert changes["new_units"] == [{"unit_id": "NEW", "site": None}]
    assert {item["unit"]["unit_id"] for item in changes["fewer_drains"]} == {"U01", "U03"}
    assert changes["shrunk"][0] | {"source": ""} == {
        "table": "drains",
        "source": "",
        "read_before": 12,
        "read_now": 11,
    }
    assert "warning: drains (b.csv): 1 row fewer than before (12 then, 11 now)" in now.printed
    assert "NEW" in now.page()


@pytest.mark.usefixtures("without_evidence")
def test_the_same_log_changes_nothing_and_no_since_says_nothing(run, write) -> None:
    log = write("a.csv", simple_log(3, 4))
    first = run("plan", log, "--as-of", AS_OF, page=False)
    again = run("plan", log, "--as-of", AS_OF, "--since", first.folder, page=False)
    assert first.record()["changes"] is None
    changes = again.record()["changes"]
    assert not any(value for name, value in changes.items() if name not in ("since", "as_of"))
    assert "warning" not in again.printed


@pytest.mark.usefixtures("without_evidence")
def test_a_folder_may_be_held_against_itself_and_replaced(run, write) -> None:
    log = write("a.csv", simple_log(2, 3))
    first = run("plan", log, "--as-of", "2026-06-19", page=False)
    second = run("plan", log, "--as-of", AS_OF, "--since", first.folder, "--out", first.folder, out=False, page=False)
    assert second.status == 0
    assert first.record()["changes"]["since"] == "2026-06-19"


@pytest.mark.parametrize("content", [{}, {"run.json": "{}"}, {"run.json": "[]"}, {"run.json": "no json"}])
def test_what_is_no_output_folder_fails_in_one_line_before_the_work(
    run, write, tmp_path: Path, content: dict
) -> None:
    earlier = tmp_path / "earlier"
    earlier.mkdir()
    for name, text in content.items():
        (earlier / name).write_text(text)
    outcome = run("plan", write("a.csv", simple_log(2, 3)), "--as-of", AS_OF, "--since", earlier)
    assert outcome.status == 1
    assert outcome.printed.count("\n") == 1
    assert "earlier" in outcome.printed
    assert not outcome.folder.exists()
