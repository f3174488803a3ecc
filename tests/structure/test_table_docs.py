"""The tables are described as they are, and the worked examples of config/README.md do what they say."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from bench.cohort_size import write
from firstrocker.cli import main
from firstrocker.settings import Settings
from firstrocker.settings_text import readme_with_tables
from firstrocker.steps.cohort import make_cohort
from firstrocker.table_words import COLUMNS, OF_TABLE, TABLES
from firstrocker.tables_text import FILES, SCHEMAS
from structure.tree import REPOSITORY
from workflow.small_study import write_session

README = (REPOSITORY / "config" / "README.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"^```python\n(.+?)^```$", README, flags=re.MULTILINE | re.DOTALL)


def test_the_readme_describes_the_tables_of_this_code() -> None:
    assert readme_with_tables(README) == README, "run: firstrocker settings --write ."


@pytest.mark.parametrize("name", sorted(SCHEMAS))
def test_every_column_stands_in_its_table(name: str) -> None:
    section = README.partition(f"### {FILES.get(name, name)}.parquet")[2].partition("\n### ")[0]
    for column in SCHEMAS[name].names:
        assert f"| `{column}` |" in section or column.endswith("_se"), column


def test_nothing_is_described_that_is_not_there() -> None:
    columns = {column for schema in SCHEMAS.values() for column in schema.names}
    assert set(COLUMNS) <= columns
    assert set(TABLES) == set(SCHEMAS)
    assert all(column in SCHEMAS[table].names for table, column in OF_TABLE)


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("examples")
    session = write_session(place / "study", "P01", seed=0)
    out = place / "results" / "sub-P01" / "ses-1"
    loggers = REPOSITORY / "config" / "loggers"
    assert main(["strides", "--session", str(session), "--out", str(out), "--loggers", str(loggers)]) == 0
    assert main(["study", "--results", str(out)]) == 0
    assert main(["cohort", "--study", str(place / "study"), "--results", str(place / "results")]) == 0
    return place


def run(example: str, place: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    monkeypatch.chdir(place)
    names: dict[str, Any] = {}
    exec(compile(example, "config/README.md", "exec"), names)  # noqa: S102  the project's own text
    return names


def test_there_are_six_examples() -> None:
    readers = [re.findall(r"^import (pandas|polars|duckdb)", example, flags=re.MULTILINE) for example in EXAMPLES]
    assert readers == [["pandas"], ["polars"], ["duckdb"], ["pandas"], ["duckdb"], ["duckdb"]]


@pytest.fixture(scope="module")
def cohort(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Tables of seven invented people, two sessions each."""
    place = tmp_path_factory.mktemp("cohort")
    write(place, 7, 5)
    make_cohort(place / "study", place / "results", settings=Settings())
    return place


def table(place: Path, name: str) -> pd.DataFrame:
    return pd.read_parquet(place / "results" / "cohort" / f"{name}.parquet").query("leg == 'affected'")


def test_effects_with_pandas(cohort: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    effects = run(EXAMPLES[0], cohort, monkeypatch)["effects"]
    assert effects["measure"].is_unique
    assert effects["people"].eq(7).all()
    own = table(cohort, "people").groupby("measure")["difference"].mean()
    assert effects.set_index("measure")["difference"].to_dict() == pytest.approx(own.to_dict(), rel=0.05, abs=0.05)


def test_people_with_polars(cohort: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("polars")
    slap = run(EXAMPLES[1], cohort, monkeypatch)["slap"]
    expected = table(cohort, "people").query("measure == 'slap_rate_deg_s'").sort_values("difference")
    assert slap["subject"].to_list() == expected["subject"].tolist()
    assert slap["difference"].to_list() == expected["difference"].tolist()


def test_changes_beyond_error_with_duckdb(cohort: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("duckdb")
    beyond = run(EXAMPLES[2], cohort, monkeypatch)["beyond"].set_index("measure")
    error = table(cohort, "reliability").query("repeats == 'walks' and condition == 'unbraced'").set_index("measure")
    people = table(cohort, "people")
    moved = people["difference"].abs() > people["measure"].map(error["mdc95"])
    assert beyond["beyond_error"].to_dict() == moved.groupby(people["measure"]).sum().to_dict()
    assert beyond["people"].eq(7).all()


def test_slap_rate_with_pandas(results: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    slap = run(EXAMPLES[3], results, monkeypatch)["slap"].reset_index()
    summary = pd.read_parquet(results / "results/sub-P01/ses-1/summary.parquet").query("measure == 'slap_rate_deg_s'")
    assert slap["walk"].tolist() == summary["walk"].tolist() == ["a", "b"]
    assert slap["mean"].to_numpy() == pytest.approx(summary["mean"].to_numpy())
    assert slap["count"].tolist() == summary["n"].tolist()


def test_course_of_the_ankle_with_duckdb(results: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("duckdb")
    loading = run(EXAMPLES[4], results, monkeypatch)["loading"]
    curves = pd.read_parquet(results / "results/sub-P01/ses-1/curves.parquet").query("steady and percent <= 15")
    expected = curves.groupby(["walk", "percent"])["ankle_deg"].agg(["mean", "std", "size"]).reset_index()
    assert loading["percent"].tolist() == expected["percent"].tolist()
    assert loading["mean_deg"].to_numpy() == pytest.approx(expected["mean"].to_numpy())
    assert loading["sd_deg"].to_numpy() == pytest.approx(expected["std"].to_numpy())
    assert loading["strides"].tolist() == expected["size"].tolist()


def test_clear_changes_with_duckdb(results: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("duckdb")
    changes = run(EXAMPLES[5], results, monkeypatch)["changes"]
    comparison = pd.read_parquet(results / "results/sub-P01/ses-1/comparison.parquet")
    clear = comparison[(comparison["reference"] == "unbraced") & comparison["verdict"].isin(["higher", "lower"])]
    assert len(changes) > 0
    assert set(changes["measure"]) == set(clear[clear["side"] == "left"]["measure"])
    assert (changes["real_changes"] > 1).all()
