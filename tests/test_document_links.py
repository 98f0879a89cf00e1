"""Links between the documents of the repository lead to files that are there."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
DOCUMENTS = sorted(
    path for folder in (".", "docs", "docs/decisions", "docs/results") for path in (ROOT / folder).glob("*.md")
)


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_links_lead_to_files(document: Path) -> None:
    targets = re.findall(r"\]\(([^)#\s]+)", document.read_text(encoding="utf-8"))
    missing = [target for target in targets if "://" not in target and not (document.parent / target).exists()]
    assert not missing
