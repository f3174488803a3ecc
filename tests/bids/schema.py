"""What the standard's own schema says of a dataset: files whose names it does not know, and fields that are missing.

The schema and the check of names are those of ``bidsschematools``, published by the standard's authors.
"""

from __future__ import annotations

import fnmatch
import json
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from bidsschematools.schema import load_schema
from bidsschematools.validator import validate_bids


@cache
def schema() -> Any:
    """The schema that comes with the library."""
    return load_schema()


def strange_names(dataset: Path) -> list[str]:
    """Files that the schema does not know and .bidsignore does not name, relative to the dataset."""
    import bidsschematools.schema as place

    bundled = Path(place.__file__).parent / "data" / "schema.json"
    told = validate_bids(str(dataset), schema_path=str(bundled))  # type: ignore[no-untyped-call]
    ignore = dataset / ".bidsignore"
    patterns = ignore.read_text().split() if ignore.is_file() else []
    names = (Path(path).resolve().relative_to(dataset.resolve()).as_posix() for path in told["path_tracking"])
    return sorted(name for name in names if not any(fnmatch.fnmatch(name, pattern) for pattern in patterns))


def missing_fields(dataset: Path) -> list[str]:
    """Required fields of the JSON files and required columns of channels.tsv that are not there."""
    return sorted([*_missing_in_json(dataset), *_missing_columns(dataset)])


def _missing_in_json(dataset: Path) -> Iterator[str]:
    rules = schema().rules
    motion = rules.sidecars.motion
    for path in sorted(dataset.rglob("*_motion.json")):
        content = json.loads(path.read_text())
        for group in motion.values():
            for field, level in group["fields"].items():
                named = level if isinstance(level, str) else level["level"]
                if named == "required" and field not in content:
                    yield f"{path.name}: {field}"
    description = json.loads((dataset / "dataset_description.json").read_text())
    groups = ["dataset_description"]
    groups += ["derivative_description"] if description.get("DatasetType") == "derivative" else []
    for name in groups:
        for field, level in rules.json.dataset[name]["fields"].items():
            if level == "required" and field not in description:
                yield f"dataset_description.json: {field}"


def _missing_columns(dataset: Path) -> Iterator[str]:
    rule = schema().rules.tabular_data.motion.motionChannels
    columns = schema().objects.columns
    first = [columns[name]["name"] for name in rule["initial_columns"]]
    kinds = set(columns["type__channels"].get("enum", [])) or None
    for path in sorted(dataset.rglob("*_channels.tsv")):
        header, *rows = [line.split("\t") for line in path.read_text().splitlines()]
        if header[: len(first)] != first:
            yield f"{path.name}: begins with {header[: len(first)]}"
        data = path.with_name(path.name.replace("_channels.tsv", "_motion.tsv"))
        width = len(data.read_text().split("\n", 1)[0].split("\t"))
        if width != len(rows):
            yield f"{path.name}: {len(rows)} rows for {width} columns of data"
        if kinds is not None and not {row[2] for row in rows} <= kinds:
            yield f"{path.name}: types {sorted({row[2] for row in rows} - kinds)}"
