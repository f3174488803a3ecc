"""The tables as people read them: every column with type, unit and meaning, printed from the schemas and measures."""

from __future__ import annotations

import pyarrow as pa

from firstrocker import tables, tables_days
from firstrocker.measures import BY_COLUMN, MEASURES
from firstrocker.table_examples import COHORT_EXAMPLES, OPENING, VERSIONS
from firstrocker.table_words import COLUMNS, EXAMPLES, OF_TABLE, TABLES

SCHEMAS: dict[str, pa.Schema] = {
    "strides": tables.STRIDES,
    "curves": tables.CURVES,
    "wear": tables.WEAR,
    "summary": tables.SUMMARY,
    "comparison": tables.COMPARISON,
    "sessions": tables.SESSIONS,
    "effects": tables.EFFECTS,
    "people": tables.PEOPLE,
    "reliability": tables.RELIABILITY,
    "cohort_curves": tables.COHORT_CURVES,
    "spm": tables.SPM,
    "days": tables_days.DAYS,
    "trends": tables_days.TRENDS,
    "alerts": tables_days.ALERTS,
    "intake": tables.INTAKE,
}
FILES = {"cohort_curves": "cohort/curves"}
FILES |= {name: f"nightly/{name}" for name in ("days", "trends", "alerts", "intake")}
"""Names of files that are not those of their schemas."""
_TYPES = {"string": "string", "double": "float", "int64": "int", "bool": "bool", "date32[day]": "date"}
_TWINS = "`<measure>_se`"


def tables_markdown() -> str:
    """A Markdown table per Parquet table, and worked examples.

    Raises:
        KeyError: a column that no one has described.
    """
    lines = [
        f"Schema version {tables.SCHEMA_VERSION}, stored in every table's metadata. Null is what could not be had. "
        + VERSIONS,
        "",
        OPENING,
    ]
    for name, schema in SCHEMAS.items():
        lines += [
            "",
            f"### {FILES.get(name, name)}.parquet",
            "",
            TABLES[name],
            "",
            "| column | type | unit | what it is |",
            "|---|---|---|---|",
        ]
        lines += [f"| {' | '.join(cells)} |" for cells in _rows(name, schema)]
    lines += ["", "### Worked examples", "", COHORT_EXAMPLES, EXAMPLES]
    return "\n".join(lines).strip() + "\n"


def _rows(table: str, schema: pa.Schema) -> list[list[str]]:
    rows: list[list[str]] = []
    for field in schema:
        if field.name.endswith("_se") and field.name.removesuffix("_se") in BY_COLUMN:
            continue
        own = (field.metadata or {}).get(b"description")
        unit, meaning = ("", own.decode()) if own else _described(table, field.name)
        rows.append([f"`{field.name}`", _TYPES[str(field.type)], unit or "-", meaning.replace("|", "\\|")])
    if table == "strides":
        without = ", ".join(f"`{measure.column}`" for measure in MEASURES if not measure.has_se)
        meaning = f"One standard error of that measurement for that stride. Every measure has one but {without}."
        rows.append([_TWINS, "float", "the measure's", meaning])
    return rows


def _described(table: str, column: str) -> tuple[str, str]:
    if (table, column) in OF_TABLE:
        return OF_TABLE[table, column]
    if column in BY_COLUMN:
        measure = BY_COLUMN[column]
        return measure.unit if measure.unit != "1" else "", f"{measure.label}. {measure.definition}"
    return COLUMNS[column]
