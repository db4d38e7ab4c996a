"""The JSON Schema of a project file, for editors and other programs."""

from __future__ import annotations

import inspect
import json
from pathlib import Path
from typing import Any

import msgspec

from core.project.model import FORMAT_VERSION, Project

SCHEMA_FILE = "project.schema.json"


def project_schema() -> bytes:
    """JSON Schema (draft 2020-12) of the present file format, as indented JSON.

    The same bytes whatever the library and the Python: some hand on a docstring as it is indented in the
    source, some dedent it, so that each description is set flush here.
    """
    schema = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"Quietspan project, format {FORMAT_VERSION}",
        **flush_descriptions(msgspec.json.schema(Project)),
    }
    return (json.dumps(schema, indent=2, ensure_ascii=False) + "\n").encode()


def flush_descriptions(schema: Any) -> Any:
    """The schema with the indentation of the source taken out of every description."""
    if isinstance(schema, dict):
        return {
            key: inspect.cleandoc(value)
            if key == "description" and isinstance(value, str)
            else flush_descriptions(value)
            for key, value in schema.items()
        }
    if isinstance(schema, list | tuple):
        return [flush_descriptions(value) for value in schema]
    return schema


def write_schema(folder: Path) -> Path:
    """Write the schema into `folder` (the resources) and return its path."""
    file = folder / SCHEMA_FILE
    file.write_bytes(project_schema())
    return file
