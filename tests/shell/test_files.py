"""Files appear whole or not at all, and the same content gives the same bytes."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pyarrow as pa
import pytest

from firstrocker import tables
from firstrocker.files import (
    compact_json,
    read_table,
    replacing,
    sha256_of,
    sha256_of_json,
    write_json,
    write_table,
    write_text,
)


def test_an_error_leaves_the_old_file_and_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    write_text(path, "old")

    def write_half() -> None:
        with replacing(path) as temporary:
            temporary.write_text("half")
            raise RuntimeError("the writer died")

    with pytest.raises(RuntimeError, match="died"):
        write_half()
    assert path.read_text() == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["a.txt"]


def test_folders_are_made(tmp_path: Path) -> None:
    write_text(tmp_path / "one" / "two" / "a.txt", "x\n")
    assert (tmp_path / "one" / "two" / "a.txt").read_bytes() == b"x\n"


def test_json_does_not_depend_on_the_order_of_keys(tmp_path: Path) -> None:
    write_json(tmp_path / "a.json", {"b": 1, "a": "°"})
    write_json(tmp_path / "b.json", {"a": "°", "b": 1})
    assert (tmp_path / "a.json").read_bytes() == (tmp_path / "b.json").read_bytes()
    assert compact_json({"b": 1, "a": [None, 0.5]}) == '{"a":[null,0.5],"b":1}'
    assert sha256_of_json({"b": 1, "a": 2}) == sha256_of_json({"a": 2, "b": 1})


def test_json_refuses_what_is_not_a_number(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="JSON"):
        write_json(tmp_path / "a.json", {"a": float("nan")})
    assert not (tmp_path / "a.json").exists()


def test_a_table_keeps_its_schema_and_gives_the_same_bytes(tmp_path: Path) -> None:
    table = pa.Table.from_pylist([{"subject": "P01", "n": 3, "mean": None}], schema=tables.SUMMARY)
    write_table(tmp_path / "a.parquet", table)
    write_table(tmp_path / "b.parquet", table)
    assert (tmp_path / "a.parquet").read_bytes() == (tmp_path / "b.parquet").read_bytes()
    assert read_table(tmp_path / "a.parquet").equals(table, check_metadata=True)


def test_folder_names_do_not_become_columns(tmp_path: Path) -> None:
    path = tmp_path / "subject=P99" / "a.parquet"
    write_table(path, tables.SUMMARY.empty_table())
    assert read_table(path).schema.equals(tables.SUMMARY, check_metadata=True)


def test_fingerprint_of_a_file(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"abc")
    assert sha256_of(tmp_path / "a") == hashlib.sha256(b"abc").hexdigest()
