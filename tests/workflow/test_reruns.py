"""What a run makes, and what the next run makes again: what depends on the change, and nothing else."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pyarrow as pa
import pytest

from firstrocker import tables
from firstrocker.files import read_table
from workflow.runs import Run, edited_package, fingerprints, snakemake
from workflow.small_study import write_session

PEOPLE = ("P01", "P02")
TABLES = {
    "strides": tables.STRIDES,
    "curves": tables.CURVES,
    "summary": tables.SUMMARY,
    "comparison": tables.COMPARISON,
    "wear": tables.WEAR,
}
ALWAYS = {("cohort", ""), ("courses", ""), ("all", "")}
ALL_JOBS = {(rule, person) for rule in ("strides", "study") for person in PEOPLE} | ALWAYS


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a study of two people, run once."""
    folder = tmp_path_factory.mktemp("reruns")
    for seed, person in enumerate(PEOPLE):
        write_session(folder / "study", person, seed=seed)
    first = run(folder)
    assert first.status == 0, first.text
    assert first.jobs == ALL_JOBS
    return folder


def run(folder: Path, *arguments: str, code: Path | None = None, cores: int = 1) -> Run:
    """A run, by default in one process: each has to import everything, for two sessions of two short walks."""
    given = ("--cores", str(cores), "--config", "study=study", "results=results", *arguments)
    return snakemake(folder, *given, code=code)


def plan(folder: Path, *arguments: str, code: Path | None = None) -> set[tuple[str, str]]:
    """What a run would make."""
    dry = run(folder, *arguments, "--dry-run", code=code)
    assert dry.status == 0, dry.text
    return dry.jobs


@contextmanager
def touched(path: Path) -> Iterator[None]:
    """The file as if it had been written just now; afterwards as it was."""
    before = path.stat()
    os.utime(path)
    try:
        yield
    finally:
        os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))


def jobs_of(person: str, *rules: str) -> set[tuple[str, str]]:
    return {(rule, person) for rule in rules} | ALWAYS


def test_every_promised_file_is_there(place: Path) -> None:
    for person in PEOPLE:
        folder = place / "results" / f"sub-{person}" / "ses-1"
        assert {path.name for path in folder.iterdir()} == {f"{name}.parquet" for name in TABLES} | {
            "quality.json",
            "evidence.json",
            "report.html",
            "letter.html",
        }
        for name, schema in TABLES.items():
            table = read_table(folder / f"{name}.parquet")
            assert table.schema.equals(schema, check_metadata=True)
            assert table.num_rows > 0
            assert pa.compute.unique(table["subject"]).to_pylist() == [person]


def test_a_second_run_does_nothing(place: Path) -> None:
    second = run(place)
    assert second.status == 0
    assert second.did_nothing, second.text


def test_touching_a_log_remakes_its_session_alone(place: Path) -> None:
    with touched(place / "study" / "sub-P01" / "ses-1" / "a_foot.csv"):
        assert plan(place) == jobs_of("P01", "strides", "study")


def test_touching_the_session_file_remakes_its_session_alone(place: Path) -> None:
    with touched(place / "study" / "sub-P02" / "ses-1" / "session.yaml"):
        assert plan(place) == jobs_of("P02", "strides", "study")


def test_a_new_file_in_a_session_remakes_it(place: Path) -> None:
    new = place / "study" / "sub-P02" / "ses-1" / "c_foot.csv"
    new.write_text("t\n")
    try:
        assert plan(place) == jobs_of("P02", "strides", "study")
    finally:
        new.unlink()


def test_a_new_session_is_made_alone(place: Path) -> None:
    write_session(place / "study", "P03", seed=3)
    try:
        assert plan(place) == jobs_of("P03", "strides", "study")
    finally:
        shutil.rmtree(place / "study" / "sub-P03")


def test_a_second_session_of_a_person_is_followed_and_touches_no_one_else(place: Path) -> None:
    first = place / "study" / "sub-P02" / "ses-1"
    second = first.with_name("ses-2")
    shutil.copytree(first, second)
    try:
        assert plan(place) == jobs_of("P02", "strides", "study")
    finally:
        shutil.rmtree(second)


def test_a_setting_of_the_comparison_leaves_the_strides_alone(place: Path) -> None:
    (place / "my.yaml").write_text("settings: {study: {confidence: 0.9}}\n")
    assert plan(place, "--configfile", "my.yaml") == {job for job in ALL_JOBS if job[0] != "strides"}


@pytest.mark.parametrize(
    "setting", ["signals: {max_bridge_s: 0.06}", "motion: {filter: mahony}", "gait: {turn_deg: 25}"]
)
def test_a_setting_of_an_earlier_leg_remakes_all(place: Path, setting: str) -> None:
    (place / "my.yaml").write_text(f"settings: {{{setting}}}\n")
    assert plan(place, "--configfile", "my.yaml") == ALL_JOBS


def test_a_setting_named_with_its_default_changes_nothing(place: Path) -> None:
    (place / "my.yaml").write_text("settings: {study: {confidence: 0.95}}\n")
    assert plan(place, "--configfile", "my.yaml") == set()


@pytest.mark.parametrize(
    ("module", "spared"),
    [
        ("motion/frames.py", set()),
        ("signals/read.py", set()),
        ("tables.py", set()),
        ("study/compare.py", {"strides"}),
        ("report/page.py", {"strides"}),
        ("cli.py", {"strides", "study", "cohort", "all"}),
    ],
)
def test_an_edit_of_the_code_remakes_what_it_made(place: Path, tmp_path: Path, module: str, spared: set[str]) -> None:
    package = edited_package(tmp_path, module)
    planned = plan(place, code=package)
    assert {rule for rule, _ in planned} >= {"strides", "study"} - spared
    assert not {rule for rule, _ in planned} & spared


@pytest.mark.parametrize("module", ["study/mixed.py", "report/cohort_words.py"])
def test_an_edit_of_what_only_the_cohort_uses_remakes_the_cohort_alone(
    place: Path, tmp_path: Path, module: str
) -> None:
    assert plan(place, code=edited_package(tmp_path, module)) == {("cohort", ""), ("all", "")}


def test_a_changed_threshold_is_made_once_and_its_way_back_gives_the_same_bytes(place: Path) -> None:
    before = fingerprints(place / "results")
    (place / "my.yaml").write_text("settings: {study: {min_strides: 6}}\n")
    changed = run(place, "--configfile", "my.yaml")
    assert changed.jobs == {job for job in ALL_JOBS if job[0] != "strides"}
    assert run(place, "--configfile", "my.yaml").did_nothing
    assert run(place).jobs == changed.jobs
    assert fingerprints(place / "results") == before


def test_a_logger_profile_remakes_the_sessions_that_name_it(place: Path) -> None:
    loggers = place / "loggers"
    loggers.mkdir(exist_ok=True)
    with_loggers = ("loggers=loggers",)
    before = plan(place, *with_loggers)
    (loggers / "nobody.yaml").write_text("{}\n")
    assert plan(place, *with_loggers) == before


def test_the_same_study_elsewhere_and_by_more_processes_gives_the_same_bytes(place: Path, tmp_path: Path) -> None:
    shutil.copytree(place / "study", tmp_path / "study")
    again = run(tmp_path, cores=2)
    assert again.status == 0, again.text
    assert fingerprints(tmp_path / "results") == fingerprints(place / "results")


def test_a_log_remade_is_remade_for_real(place: Path) -> None:
    results = place / "results"
    before, times = fingerprints(results), {path: path.stat().st_mtime_ns for path in results.rglob("*.parquet")}
    os.utime(place / "study" / "sub-P01" / "ses-1" / "a_foot.csv")
    again = run(place)
    assert again.status == 0
    assert again.jobs == jobs_of("P01", "strides", "study")
    assert fingerprints(results) == before
    newer = {path for path in times if path.stat().st_mtime_ns != times[path]}
    assert {path.relative_to(results).parts[0] for path in newer} == {"sub-P01", "cohort"}
    assert run(place).did_nothing
