"""Links and file names in the documents lead somewhere."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.docs.documents import DEVELOPERS, README, ROOT

DOCUMENTS = (README, DEVELOPERS, ROOT / "calibrations" / "README.md", ROOT / "docs" / "logs.md")
_LINK = re.compile(r"\]\(([^)\s]+)\)")
_PATH = re.compile(r"`((?:dualduty|strategies|plant|replay|calibrations|tests)/[\w./-]*)`")

_ADDED = re.compile(r"^<!-- file: (.*) -->$", re.MULTILINE)  # the reader makes these


def leads_nowhere(document: Path, text: str) -> list[str]:
    """Targets of links, and paths of this house, that are not there."""
    links = [target for target in _LINK.findall(text) if "://" not in target]
    headings = {re.sub(r"[^\w -]", "", line.lstrip("# ").lower()).replace(" ", "-") for line in text.splitlines() if line.startswith("#")}
    missing = [target for target in links if target.startswith("#") and target[1:] not in headings]
    missing += [target for target in links if not target.startswith("#") and not (document.parent / target.partition("#")[0]).exists()]
    added = set(_ADDED.findall(text))
    return missing + [path for path in _PATH.findall(text) if path not in added and not (ROOT / path).exists()]


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_links_lead_somewhere(document: Path) -> None:
    assert leads_nowhere(document, document.read_text(encoding="utf-8")) == []


def test_a_link_that_leads_nowhere_is_found() -> None:
    text = "# A heading\n[a](#a-heading) [b](#none) [c](LICENSE) [d](NOWHERE.md) `plant/` `plant/none.py` [e](https://example.org)"
    assert leads_nowhere(README, text) == ["#none", "NOWHERE.md", "plant/none.py"]
