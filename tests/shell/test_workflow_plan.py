"""What the Snakefile asks of the package: paths, params, and the mistakes a configuration can hold."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from firstrocker.errors import SettingsError
from firstrocker.layout import STRIDES_FILES, STUDY_FILES, SessionName, part_ends
from firstrocker.stamps import Recipe, Stamp, wanted_stamp, write_stamp
from firstrocker.workflow import DEMO_STUDY, MOST_TOLD, Plan, plan_run
from firstrocker.workflow_config import MOST_SESSIONS


@pytest.fixture
def home(tmp_path: Path) -> Path:
    (tmp_path / "config" / "loggers").mkdir(parents=True)
    return tmp_path


@pytest.fixture
def study(tmp_path: Path) -> Path:
    (tmp_path / "study" / "sub-P01" / "ses-1").mkdir(parents=True)
    return tmp_path / "study"


class NoDemo:
    """Stands for Snakemake's checkpoints where none may be asked for."""


def test_without_configuration_it_is_the_demo(home: Path) -> None:
    plan = Plan.from_config({}, home=home)
    assert plan.is_demo
    assert (plan.study, plan.results) == (Path(DEMO_STUDY), Path("results"))
    assert plan.loggers == home / "config" / "loggers"


def test_a_study_of_ones_own(home: Path, study: Path) -> None:
    plan = Plan.from_config({"study": str(study), "results": "out"}, home=home)
    assert not plan.is_demo
    assert plan.sessions == [SessionName("P01", "1")]
    assert plan.parts_done(NoDemo()) == ["out/.made/parts/P01_1-P01_1"]
    assert plan.told("P01_1-P01_1") == "sub-P01/ses-1 (strides, study)"
    assert plan.part_done == "out/.made/parts/{part}"


class OnACluster:
    """What a plan asks of Snakemake's account of a run that sends its jobs away."""

    local_exec = False
    is_main_process = True

    @property
    def cores(self) -> int:
        from snakemake.exceptions import WorkflowError

        raise WorkflowError("Workflow requires a total number of cores to be defined")


def test_on_a_cluster_the_sessions_fall_into_parts(home: Path, study: Path) -> None:
    names = [f"P{number:04d}" for number in range(2 * MOST_SESSIONS + 1)]
    for name in names:
        (study / f"sub-{name}" / "ses-1").mkdir(parents=True)
    given = {"study": str(study), "results": "out"}
    plan = Plan.from_config(given, home=home, run=OnACluster())
    ends = [part_ends(part) for part in plan.parts]
    assert len(ends) == 3
    inside = [[name for name in plan.sessions if first <= name <= last] for first, last in ends]
    assert sorted(name for part in inside for name in part) == plan.sessions
    assert max(map(len, inside)) == MOST_SESSIONS
    assert plan.threads(None) == 4
    assert plan.told(plan.parts[0]).endswith(f" and {MOST_SESSIONS - MOST_TOLD} more")
    assert len(Plan.from_config(given, home=home).parts) == 1
    assert len(Plan.from_config(given | {"sessions_per_job": 300}, home=home, run=OnACluster()).parts) == 2


class JobOfACluster(OnACluster):
    """The same, asked from inside a job; of the two that Snakemake starts for it, the inner one counts as local."""

    is_main_process = False


class InnerJobOfACluster(JobOfACluster):
    """The inner one."""

    local_exec = True


@pytest.mark.parametrize("run", [JobOfACluster(), InnerJobOfACluster()])
def test_a_job_of_a_cluster_looks_at_its_own_sessions_only(
    home: Path, study: Path, monkeypatch: pytest.MonkeyPatch, run: OnACluster
) -> None:
    for number in range(2, 40):
        (study / f"sub-P{number:02d}" / "ses-1").mkdir(parents=True)
    given = {"study": str(study), "results": "out", "sessions_per_job": 3}
    whole = Plan.from_config(given, home=home, run=OnACluster())
    wanted = {part: (whole.told(part), whole.jobs_of(part).memory_mb(part, 4, 1)) for part in whole.parts}
    assert len(wanted) == 13
    looked_at: list[str] = []

    def noted(session: Path, loggers: Path, recipe: Recipe) -> Stamp:
        looked_at.append(session.parent.name)
        return wanted_stamp(session, loggers, recipe)

    monkeypatch.setattr("firstrocker.workflow.wanted_stamp", noted)
    job = Plan.from_config(given, home=home, run=run)
    assert (job.told("P04_1-P06_1"), job.jobs_of("P04_1-P06_1").memory_mb("P04_1-P06_1", 4, 1)) == wanted["P04_1-P06_1"]
    assert set(looked_at) == {"sub-P04", "sub-P05", "sub-P06"}


def test_a_step_is_given_the_settings_it_uses_and_no_others(home: Path) -> None:
    plan = Plan.from_config({"settings": {"study": {"confidence": "0.9"}}}, home=home)
    given = json.loads(plan.settings_for("study"))
    assert list(given) == ["study"]
    assert given["study"]["confidence"] == 0.9
    default = Plan.from_config({}, home=home)
    assert plan.settings_for("signals", "motion", "gait") == default.settings_for("signals", "motion", "gait")


@pytest.mark.parametrize(
    ("config", "words"),
    [
        ({"studdy": "x"}, "there is no key studdy (did you mean study?)"),
        ({"gait": {}}, "there is no key gait (did you mean settings: gait?)"),
        ({"study": "nowhere"}, "study=nowhere: there is no such folder"),
        ({"study": {"confidence": 0.9}}, "this is not a path"),
        ({"loggers": "nowhere"}, "loggers=nowhere: there is no such folder"),
        ({"sessions_per_job": 0}, "sessions_per_job=0: this is not a number of sessions"),
        ({"job_minutes": "long"}, "job_minutes=long: this is not a number of minutes"),
        ({"study": ".", "results": "./"}, "study and results are one folder"),
        ({"settings": {"gait": {"turn_dge": 3}}}, "did you mean gait.turn_deg?"),
    ],
)
def test_a_mistake_is_told_in_words_that_help(home: Path, config: dict[str, Any], words: str) -> None:
    with pytest.raises(SettingsError) as caught:
        Plan.from_config(config, home=home)
    assert words in str(caught.value)


def test_a_study_without_sessions_is_refused(home: Path, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    with pytest.raises(SettingsError, match="holds no session"):
        Plan.from_config({"study": str(tmp_path / "empty")}, home=home)


def test_in_a_snakefile_a_mistake_is_snakemakes_own_error(home: Path) -> None:
    from snakemake.exceptions import WorkflowError

    with pytest.raises(WorkflowError, match="no such folder"):
        plan_run({"study": "nowhere"}, home=home)


def test_closing_lines_name_what_someone_should_look_at(home: Path, study: Path, tmp_path: Path) -> None:
    (study / "sub-P 2" / "ses-1").mkdir(parents=True)
    for name in ("P02", "P03", "P04"):
        (study / f"sub-{name}" / "ses-1").mkdir(parents=True)
    results = tmp_path / "results"
    for name, status, findings in (
        ("P01", "ok", []),
        ("P02", "rejected", [("warning", None, "It jerks."), ("error", None, "No log.")]),
        ("P03", "flagged", [("warning", "a", "A gap."), ("info", "a", "Axes found.")]),
    ):
        folder = results / f"sub-{name}" / "ses-1"
        folder.mkdir(parents=True)
        told = [{"severity": s, "walk": w, "message": m, "remedy": "Mend it."} for s, w, m in findings]
        (folder / "quality.json").write_text(json.dumps({"status": status, "findings": told}))
    plan = Plan.from_config({"study": str(study), "results": str(results)}, home=home)
    lines = plan.closing_lines()
    assert lines[0].startswith("sub-P 2/ses-1: not looked at")
    assert lines[1:] == [
        "sub-P02/ses-1: rejected: No log. Mend it. (1 more in quality.json)",
        "sub-P03/ses-1: flagged: walk a: A gap. Mend it.",
    ]


def test_after_a_failure_it_is_said_what_is_missing(
    home: Path, study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for number in range(2, 9):
        (study / f"sub-P{number:02d}" / "ses-1").mkdir(parents=True)
    plan = Plan.from_config({"study": str(study), "results": str(tmp_path / "out")}, home=home)
    made = SessionName("P02", "1")
    (plan.results / made.folder).mkdir(parents=True)
    for name in (*STRIDES_FILES, *STUDY_FILES):
        (plan.results / made.folder / name).touch()
    write_stamp(plan.results, made, plan.wanted[made])
    plan.tell()
    assert "Not made" not in capsys.readouterr().err
    plan.tell(failed=True)
    told = capsys.readouterr().err
    assert "Not made: 7 of 8 sessions (sub-P01/ses-1, sub-P03/ses-1," in told
    assert "and 2 more" in told
    assert "sub-P02" not in told


def test_what_an_inbox_holds_is_part_of_what_the_page_of_the_morning_is_made_from(
    home: Path, study: Path, tmp_path: Path
) -> None:
    plan = Plan.from_config({"study": str(study), "results": str(tmp_path / "results")}, home=home)
    told = Path(plan.nightly("intake.parquet"))
    assert plan.intake_stamp(None) == ""
    told.parent.mkdir(parents=True)
    told.write_bytes(b"one")
    first = plan.intake_stamp(None)
    told.write_bytes(b"two")
    assert "" != first != plan.intake_stamp(None)
