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
    source, some dedent it, and alternatives come in one order or another; both are settled here.
    """
    schema = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"Quietspan project, format {FORMAT_VERSION}",
        **flush_descriptions(msgspec.json.schema(Project)),
    }
    return (json.dumps(schema, indent=2, ensure_ascii=False) + "\n").encode()


def flush_descriptions(schema: Any) -> Any:
    """The schema without the source's indentation in descriptions, alternatives in the order of their text."""
    if isinstance(schema, dict):
        return {key: _flush(key, value) for key, value in schema.items()}
    if isinstance(schema, list | tuple):
        return [flush_descriptions(value) for value in schema]
    return schema


def _flush(key: str, value: Any) -> Any:
    if key == "description" and isinstance(value, str):
        return inspect.cleandoc(value)
    if key == "anyOf":
        return sorted(flush_descriptions(value), key=lambda each: json.dumps(each, sort_keys=True))
    return flush_descriptions(value)


def write_schema(folder: Path) -> Path:
    """Write the schema into `folder` (the resources) and return its path."""
    file = folder / SCHEMA_FILE
    file.write_bytes(project_schema())
    return file
