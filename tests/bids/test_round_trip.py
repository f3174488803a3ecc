"""Study -> Motion-BIDS -> study gives the same strides; what is written is what the standard's schema asks for."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from bids.schema import missing_fields, strange_names
from firstrocker.cli import main
from firstrocker.commands import USER_MISTAKE
from firstrocker.files import read_table
from firstrocker.settings import Settings
from firstrocker.steps.bids import export_results, export_study
from firstrocker.steps.strides import make_strides
from firstrocker.synth.study import write_demo_study
from structure.tree import REPOSITORY

LOGGERS = REPOSITORY / "config" / "loggers"


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """study, dataset, both their results, and those as a derivative."""
    folder = tmp_path_factory.mktemp("bids")
    write_demo_study(folder / "study", strides=4)
    shutil.rmtree(folder / "study" / "sub-A1" / "ses-20260302")
    assert export_study(folder / "study", folder / "dataset", settings=Settings(), loggers=LOGGERS) == []
    for session in sorted((folder / "study").glob("sub-*/ses-*")):
        name = f"{session.parent.name}/{session.name}"
        for one in ("study", "dataset"):
            out = folder / f"of_{one}" / name
            out.mkdir(parents=True)
            make_strides(folder / one / name, out, settings=Settings(), loggers=LOGGERS)
    export_results(folder / "of_study", folder / "derivative")
    return folder


def sessions(folder: Path) -> list[str]:
    return [f"{path.parent.name}/{path.name}" for path in sorted(folder.glob("sub-*/ses-*"))]


def test_the_same_strides_to_the_last_bit(place: Path) -> None:
    names = sessions(place / "study")
    assert len(names) == 3
    for name in names:
        one, other = (read_table(place / of / name / "strides.parquet") for of in ("of_study", "of_dataset"))
        assert one.num_rows > 4
        assert one.equals(other), name
        curves = [read_table(place / of / name / "curves.parquet") for of in ("of_study", "of_dataset")]
        assert curves[0].equals(curves[1]), name


def test_the_same_session_is_told(place: Path) -> None:
    for name in sessions(place / "study"):
        one, other = (json.loads((place / of / name / "quality.json").read_text()) for of in ("of_study", "of_dataset"))
        for key in ("status", "affected_side", "walks"):
            assert one[key] == other[key]
        codes = [[(f["code"], f["walk"], f["side"], f["segment"]) for f in q["findings"]] for q in (one, other)]
        assert sorted(map(str, codes[0])) == sorted(map(str, codes[1]))


@pytest.mark.parametrize("which", ["dataset", "derivative"])
def test_names_and_fields_are_those_of_the_schema(place: Path, which: str) -> None:
    assert strange_names(place / which) == []
    assert missing_fields(place / which) == []
    description = json.loads((place / which / "dataset_description.json").read_text())
    assert description["DatasetType"] == {"dataset": "raw", "derivative": "derivative"}[which]
    assert description["GeneratedBy"][0]["Name"] == "firstrocker"


def test_the_check_of_names_finds_a_strange_one(place: Path, tmp_path: Path) -> None:
    for path in ("dataset_description.json", "sub-A1/ses-1/motion/sub-A1_ses-1_task-walking_acc.tsv"):
        (tmp_path / path).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / path).write_text((place / "dataset" / "dataset_description.json").read_text())
    assert strange_names(tmp_path) == ["sub-A1/ses-1/motion/sub-A1_ses-1_task-walking_acc.tsv"]


def test_a_derivative_holds_every_stride_and_what_was_noticed(place: Path) -> None:
    for name in sessions(place / "study"):
        strides = read_table(place / "of_study" / name / "strides.parquet")
        files = sorted((place / "derivative" / name / "motion").glob("*_events.tsv"))
        lines = [line.split("\t") for file in files for line in file.read_text().splitlines()[1:]]
        assert len(lines) == strides.num_rows
        assert {line[2] for line in lines} == {"stride"}
        for file in files:
            told = json.loads(file.with_suffix(".json").read_text())
            header = file.read_text().splitlines()[0].split("\t")
            assert set(header) <= set(told)
            assert all(told[column]["Description"] for column in header)
            assert told["SessionStatus"] in ("ok", "flagged")
    readme = (place / "derivative" / "README.md").read_text()
    assert all(f"| {name} | " in readme for name in sessions(place / "study"))


def test_only_the_strides_numbers_are_in_the_events(place: Path) -> None:
    file = next((place / "derivative").rglob("*_events.tsv"))
    header, *rows = [line.split("\t") for line in file.read_text().splitlines()]
    subject, session = file.parts[-4], file.parts[-3]
    table = read_table(place / "of_study" / subject / session / "strides.parquet").to_pylist()
    walk = file.name.partition("acq-")[2].partition("_")[0]
    mine = [row for row in table if row["walk"] == walk and f"tracksys-{row['side']}foot" in file.name]
    for row, cells in zip(mine, rows, strict=True):
        told = dict(zip(header, cells, strict=True))
        assert told["onset"] == ("n/a" if row["heel_strike_s"] is None else repr(row["heel_strike_s"]))
        for name in ("stride_length_m", "toe_clearance_min_mm", "ankle_share", "slap_rate_deg_s_se"):
            assert told[name] == ("n/a" if row[name] is None else repr(row[name]))


def test_the_command(place: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["bids", str(tmp_path / "derivative"), "--results", str(place / "of_study")]) == 0
    made = (place / "derivative", tmp_path / "derivative")
    one, other = (sorted(path.relative_to(folder) for path in folder.rglob("*")) for folder in made)
    assert one == other
    again = ["bids", str(place / "dataset"), "--study", str(place / "study"), "--loggers", str(LOGGERS)]
    assert main(again) == USER_MISTAKE
    assert "not an empty folder" in capsys.readouterr().err
    assert main(["bids", str(tmp_path / "x"), "--results", str(tmp_path / "none")]) == USER_MISTAKE
    assert not (tmp_path / "x").exists()
