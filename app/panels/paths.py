"""Reading and replacing one value of a project by its path, as the fields and problems name it."""

from __future__ import annotations

from core.project.at_path import lies_in, replaced_at, steps, value_at

__all__ = ["lies_in", "replaced_at", "steps", "value_at"]
