"""What the Snakefile and its rules ask: which sessions, which files, which settings, which code.

Kept free of heavy imports, for every start of the workflow loads it.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from firstrocker.errors import SettingsError
from firstrocker.files import compact_json, sha256_of_json
from firstrocker.layout import (
    LABEL,
    STRIDES_FILES,
    STUDY_FILES,
    SessionName,
    find_sessions,
    gravest_finding,
    session_files,
)
from firstrocker.settings import Settings, load_settings
from firstrocker.sources import source_hash

COHORT_TABLES = (
    "sessions",
    "strides",
    "summary",
    "comparison",
    "effects",
    "people",
    "reliability",
    "curves",
    "spm",
)
DEMO_STUDY = "demo-study"
KEYS = ("settings", "study", "results", "loggers")


@dataclass(frozen=True)
class Plan:
    """One run of the workflow: where it reads, where it writes, and with which settings.

    study: the study folder; made by the rule ``demo`` where none was given. results: the results folder. loggers: the
    folder of logger profiles.
    """

    study: Path
    results: Path
    loggers: Path
    settings: Settings
    is_demo: bool

    label = LABEL
    demo_study = DEMO_STUDY

    @classmethod
    def from_config(cls, config: Mapping[str, Any], *, home: Path | str) -> Plan:
        """The plan that Snakemake's configuration asks for.

        Args:
            config: the keys ``settings``, ``study``, ``results`` and ``loggers``, all optional.
            home: the folder of the Snakefile.

        Raises:
            SettingsError: an unknown key, an impossible setting, a study folder that is not there.
        """
        _refuse_unknown(config)
        settings = load_settings(config.get("settings"), where="settings")
        given = config.get("study")
        study = _path(config, "study", Path(DEMO_STUDY))
        results = _path(config, "results", Path("results"))
        loggers = _path(config, "loggers", Path(home) / "config" / "loggers")
        plan = cls(study, results, loggers, settings, is_demo=given is None)
        plan._check_folders()
        return plan

    def _check_folders(self) -> None:
        if not self.loggers.is_dir():
            raise SettingsError("there is no such folder.", where=f"loggers={self.loggers}", remedy="Mend the path.")
        if self.results.resolve() == self.study.resolve():
            raise SettingsError(
                "study and results are one folder.", where=f"results={self.results}", remedy="Choose another results."
            )
        if self.is_demo:
            return
        if not self.study.is_dir():
            raise SettingsError("there is no such folder.", where=f"study={self.study}", remedy="Mend the path.")
        if not find_sessions(self.study)[0]:
            raise SettingsError(
                "it holds no session.",
                where=f"study={self.study}",
                remedy="A session is a folder sub-<label>/ses-<label> with a session.yaml in it.",
            )

    # Names of outputs, with Snakemake's wildcards in them.

    def session_file(self, name: str) -> str:
        """The path of one of a session's results."""
        return f"{self.results}/sub-{{subject}}/ses-{{session}}/{name}"

    def session_log(self, rule: str) -> str:
        """The path of the log that a rule keeps for a session."""
        return f"{self.results}/logs/sub-{{subject}}/ses-{{session}}/{rule}.log"

    def log(self, rule: str) -> str:
        """The path of the log of a rule that runs once."""
        return f"{self.results}/logs/{rule}.log"

    @property
    def cohort_files(self) -> list[str]:
        """The results over all sessions."""
        return [f"{self.results}/cohort/{name}.parquet" for name in COHORT_TABLES] + [
            f"{self.results}/cohort/report.html"
        ]

    # Input functions: Snakemake calls them with the wildcards of a job.

    def sessions(self, checkpoints: Any) -> list[SessionName]:
        """Every session of the study; the demo study is made first."""
        self._wait_for_demo(checkpoints)
        return find_sessions(self.study)[0]

    def session_inputs(self, wildcards: Any, checkpoints: Any) -> list[str]:
        """Every file of a session's folder and the logger profiles it names."""
        self._wait_for_demo(checkpoints)
        folder = self.study / SessionName(wildcards.subject, wildcards.session).folder
        return [str(path) for path in session_files(folder, (self.loggers,))]

    def session_results(self, checkpoints: Any, *names: str) -> list[str]:
        """The named results of every session; all of them where none is named."""
        wanted = names or STRIDES_FILES + STUDY_FILES
        return [str(self.results / one.folder / name) for one in self.sessions(checkpoints) for name in wanted]

    def _wait_for_demo(self, checkpoints: Any) -> None:
        if self.is_demo:
            checkpoints.demo.get()

    # Params: what a rule's results depend on besides its input files.

    def settings_for(self, *sections: str) -> str:
        """The values of some sections as JSON on one line: what a step is given, and nothing it does not use."""
        return compact_json(self.settings.model_dump(mode="json", include=set(sections)))

    def session_stamp(self, wildcards: Any, checkpoints: Any) -> str:
        """Fingerprint of when a session's input files were last written.

        Snakemake passes over a file that is newer but small and unchanged; here a file that was touched counts as new,
        whatever its size.
        """
        inputs = map(Path, self.session_inputs(wildcards, checkpoints))
        return sha256_of_json([[path.name, path.stat().st_mtime_ns] for path in inputs])[:16]

    @staticmethod
    def source(*steps: str) -> str:
        """Fingerprint of all code of the package that these modules use."""
        return source_hash(*(f"firstrocker.{step}" for step in steps))

    # Words for the end of a run.

    def tell(self) -> None:
        """Print the closing lines on standard error, where Snakemake's own words go."""
        sys.stderr.writelines(f"{line}\n" for line in self.closing_lines())

    def closing_lines(self) -> list[str]:
        """A line for each session that was rejected or flagged, and for each folder that was not looked at."""
        if not self.study.is_dir():
            return []
        sessions, lines = find_sessions(self.study)
        for name in sessions:
            record = _read_json(self.results / name.folder / "quality.json")
            if record.get("status") in ("flagged", "rejected"):
                lines.append(f"{name.folder}: {record['status']}: {gravest_finding(record) or 'see quality.json'}")
        return lines


def plan_run(config: Mapping[str, Any], *, home: Path | str) -> Plan:
    """:meth:`Plan.from_config` for a Snakefile: a user's mistake ends the run with its sentence and no traceback."""
    try:
        return Plan.from_config(config, home=home)
    except SettingsError as mistake:
        from snakemake.exceptions import WorkflowError

        raise WorkflowError(str(mistake)) from None


def _refuse_unknown(config: Mapping[str, Any]) -> None:
    known = {key: key for key in KEYS} | {name: f"settings: {name}" for name in ("signals", "motion", "gait")}
    for key in config:
        if key not in KEYS:
            close = get_close_matches(key, known, n=1)
            hint = f" (did you mean {known[close[0]]}?)" if close else ""
            raise SettingsError(f"there is no key {key}{hint}.", where="config", remedy=f"Known: {', '.join(KEYS)}.")


def _path(config: Mapping[str, Any], key: str, default: Path) -> Path:
    value = config.get(key)
    if value is None:
        return default
    if isinstance(value, (dict, list)):
        raise SettingsError("this is not a path.", where=f"{key}={value}", remedy="Settings stand under `settings`.")
    return Path(str(value)).expanduser()


def _read_json(path: Path) -> dict[str, Any]:
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return data if isinstance(data, dict) else {}
