"""The JSON Schema of a project file, for editors and other programs."""

from __future__ import annotations

from pathlib import Path

import msgspec

from core.project.model import FORMAT_VERSION, Project

SCHEMA_FILE = "project.schema.json"


def project_schema() -> bytes:
    """JSON Schema (draft 2020-12) of the present file format, as indented JSON."""
    schema = msgspec.json.schema(Project)
    named = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"Quietspan project, format {FORMAT_VERSION}",
        **schema,
    }
    return msgspec.json.format(msgspec.json.encode(named), indent=2) + b"\n"


def write_schema(folder: Path) -> Path:
    """Write the schema into `folder` (the resources) and return its path."""
    file = folder / SCHEMA_FILE
    file.write_bytes(project_schema())
    return file
