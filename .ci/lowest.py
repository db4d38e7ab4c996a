"""Constraints for pip: every dependency of pyproject.toml, extras included, at its lower bound.

`python .ci/lowest.py > lowest.txt && pip install -c lowest.txt ".[test,cluster]"`. A requirement without a
lower bound ends this with words: a version nobody tried is none that works.
"""

from __future__ import annotations

import re
import sys
import tomllib
from pathlib import Path

REQUIREMENT = re.compile(r"^([A-Za-z0-9._-]+)(?:\[[^]]*\])?\s*(.*)$")


def lowest(requirement: str) -> str:
    """`name==version` at the lower bound of "name>=version,..."."""
    name, bounds = REQUIREMENT.fullmatch(requirement.partition(";")[0].strip()).groups()  # type: ignore[union-attr]
    found = re.search(r">=\s*([^,\s]+)", bounds)
    if found is None:
        raise SystemExit(f"{requirement}: no lower bound (>=) in pyproject.toml")
    return f"{name}=={found[1]}"


def main() -> None:
    project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = [*project["dependencies"], *(r for extra in project["optional-dependencies"].values() for r in extra)]
    sys.stdout.write("".join(lowest(requirement) + "\n" for requirement in wanted))


if __name__ == "__main__":
    main()
