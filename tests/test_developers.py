"""The page for developers names files that are there."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


def test_every_file_named_is_there():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    names = set(re.findall(r"`([\w/]+\.(?:py|toml|json))`", text))
    every = [p.relative_to(ROOT).as_posix() for top in ("app", "core", "tests", "resources", ".ci") for p in (ROOT / top).rglob("*.*")]
    every += [p.name for p in ROOT.iterdir()]
    missing = [name for name in names if not any(("/" + one).endswith("/" + name) for one in every)]
    assert len(names) > 40 and missing == []
