"""Print the table of published experiments; `--write` puts it into README.md and the help page."""

from __future__ import annotations

import sys

from tests.published.experiments import PLACES, table, written

now = table()
print(now)
if "--write" in sys.argv[1:]:
    for page in PLACES:
        text = page.read_text(encoding="utf-8")
        old = written(text)
        if old is None:
            sys.exit(f"{page} has no table of published experiments to replace.")
        page.write_text(text.replace(old, now), encoding="utf-8")
