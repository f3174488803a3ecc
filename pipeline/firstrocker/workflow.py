"""What the Snakefile and its rules ask: which sessions, which files, which settings, which code.

Kept free of heavy imports, for every start of the workflow loads it.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from firstrocker.closing import closing_lines
from firstrocker.errors import FirstrockerError
from firstrocker.files import compact_json, sha256_of, sha256_of_json
from firstrocker.grouping import Jobs, of_part
from firstrocker.guard import begin_run, end_with_starter, stop_promptly
from firstrocker.inbox.morning import morning
from firstrocker.layout import MADE, NIGHTLY, PART, SessionName, find_sessions, part_ends, part_name
from firstrocker.settings import Settings, load_settings
from firstrocker.sources import source_hash
from firstrocker.stamps import Stamp, has_failed, made_stamp, not_made, recipe_of, steps_to_make, wanted_stamp
from firstrocker.workflow_config import (
    JOB_MINUTES,
    MOST_SESSIONS,
    check_folders,
    path_of,
    refuse_unknown,
    whole_of,
)

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
MOST_TOLD = 20
"""Sessions named before a job starts; of more, the number is enough."""


@dataclass(frozen=True)
class Plan:
    """One run of the workflow: where it reads, where it writes, and with which settings.

    study: the study folder; made by the rule ``demo`` where none was given. results: the results folder. loggers: the
    folder of logger profiles. run: Snakemake's own account of this run, asked for its cores and its part in it; None
    where there is no Snakemake. per_job, job_minutes: most sessions in a job of a cluster, and its length. inbox: the
    folder that the study is filled from first; None where the study is as it is.
    """

    study: Path
    results: Path
    loggers: Path
    settings: Settings
    is_demo: bool

    run: Any = None
    per_job: int = MOST_SESSIONS
    job_minutes: int = JOB_MINUTES
    inbox: Path | None = None

    part = PART
    demo_study = DEMO_STUDY

    @classmethod
    def from_config(cls, config: Mapping[str, Any], *, home: Path | str, run: Any = None) -> Plan:
        """The plan that Snakemake's configuration asks for.

        Args:
            config: the keys of ``KEYS``, all optional.
            home: the folder of the Snakefile.
            run: Snakemake's own account of this run.

        Raises:
            SettingsError: an unknown key, an impossible setting, a study folder that is not there.
        """
        refuse_unknown(config)
        settings = load_settings(config.get("settings"), where="settings")
        given = config.get("study")
        study = path_of(config, "study", Path(DEMO_STUDY))
        results = path_of(config, "results", Path("results"))
        loggers = path_of(config, "loggers", Path(home) / "config" / "loggers")
        inbox = None if config.get("inbox") is None else path_of(config, "inbox", Path("inbox"))
        check_folders(study, results, loggers, is_demo=given is None, inbox=inbox)
        limits = whole_of(config, "sessions_per_job", MOST_SESSIONS), whole_of(config, "job_minutes", JOB_MINUTES)
        return cls(study, results, loggers, settings, given is None, run, *limits, inbox)

    # Names of outputs, with Snakemake's wildcards in them.

    @property
    def part_done(self) -> str:
        """A mark that a part of the sessions is made; it holds for one run only."""
        return f"{self.results}/{MADE}/parts/{{part}}"

    @property
    def courses_done(self) -> str:
        """A mark that the pages of people with several sessions are made."""
        return f"{self.results}/{MADE}/courses"

    @property
    def looked(self) -> str:
        """A mark that the inbox was looked at; it holds for one run only."""
        return f"{self.results}/{MADE}/parts/inbox"

    @property
    def unwatched(self) -> str:
        """What a job on sessions is told where they come from an inbox."""
        return "" if self.inbox is None else "--unwatched"

    def log(self, name: str) -> str:
        """The path of a rule's log."""
        return f"{self.results}/logs/{name}.log"

    @property
    def cohort_files(self) -> list[str]:
        """The results over all sessions."""
        return [f"{self.results}/cohort/{name}.parquet" for name in COHORT_TABLES] + [
            f"{self.results}/cohort/report.html"
        ]

    def nightly(self, name: str) -> str:
        """A file of what is watched over days."""
        return f"{self.results}/{NIGHTLY}/{name}"

    # What there is to make.

    @cached_property
    def sessions(self) -> list[SessionName]:
        """Every session of the study, sorted."""
        return find_sessions(self.study)[0]

    @cached_property
    def wanted(self) -> dict[SessionName, Stamp]:
        """What each session's results should be made from; looked at once in a run."""
        return self._stamps_of(self.sessions)

    def _stamps_of(self, names: Iterable[SessionName]) -> dict[SessionName, Stamp]:
        recipe = recipe_of(self.settings)
        return {name: wanted_stamp(self.study / name.folder, self.loggers, recipe) for name in names}

    @cached_property
    def to_make(self) -> dict[SessionName, tuple[str, ...]]:
        """The sessions that are out of date, sorted, and the steps of each; looked at once in a run."""
        return self._out_of_date(self.wanted)

    def _out_of_date(self, wanted: Mapping[SessionName, Stamp]) -> dict[SessionName, tuple[str, ...]]:
        found = {name: steps_to_make(stamp, made_stamp(self.results, name)) for name, stamp in wanted.items()}
        # Where nobody watches, a session that failed before, just as it is, is tried again when it has changed.
        left = {name for name in found if self.inbox is not None and has_failed(self.results, name, wanted[name])}
        return {name: steps for name, steps in found.items() if steps and name not in left}

    @cached_property
    def parts(self) -> list[str]:
        """The parts that the sessions to make fall into, one job each: a single one here, more on a cluster."""
        if self._is_local:
            names = list(self.to_make)
            return [part_name(names[0], names[-1])] if names else []
        return self.jobs.parts(most=self.per_job, target_s=60.0 * self.job_minutes * self.threads(None))

    @cached_property
    def jobs(self) -> Jobs:
        """What the jobs of a cluster need; looked at once in a run."""
        return Jobs.of(self.study, () if self._is_local else self.to_make)

    def jobs_of(self, part: str) -> Jobs:
        """What the job of a part needs."""
        return self.jobs if self._looks_at_all else Jobs.of(self.study, self._to_make_of(part))

    def _to_make_of(self, part: str) -> dict[SessionName, tuple[str, ...]]:
        if self._looks_at_all:
            return {name: self.to_make[name] for name in of_part(tuple(self.to_make), part)}
        return self._out_of_date(self._stamps_of(find_sessions(self.study, *part_ends(part))[0]))

    @property
    def _is_local(self) -> bool:
        return self.run is None or self.run.local_exec

    @property
    def _looks_at_all(self) -> bool:
        """A job of a cluster looks at its own sessions only: there may be thousands of jobs."""
        return self.run is None or bool(self.run.is_main_process)

    def told(self, part: str) -> str:
        """The sessions of a part, and what is made of them, in words."""
        some = [f"{name.folder} ({', '.join(steps)})" for name, steps in self._to_make_of(part).items()]
        more = f" and {len(some) - MOST_TOLD} more" if len(some) > MOST_TOLD else ""
        return ", ".join(some[:MOST_TOLD]) + more

    def sessions_stamp(self, checkpoints: Any) -> str:
        """Fingerprint of all that the sessions' results are made from."""
        self._wait_for_study(checkpoints)
        return sha256_of_json([[name.folder, stamp.study] for name, stamp in self.wanted.items()])[:16]

    def intake_stamp(self, checkpoints: Any) -> str:
        """Fingerprint of what is known of an inbox once the sessions are; empty without one."""
        self.sessions_stamp(checkpoints)
        told = Path(self.nightly("intake.parquet"))
        return sha256_of(told)[:16] if told.is_file() else ""

    def threads(self, wildcards: Any) -> int:
        """How many sessions a job makes at a time: all cores here; on a cluster what the profile says, else four."""
        return int(self.run.cores) if self.run is not None and self.run.local_exec else 4

    # Input functions: Snakemake calls them with the wildcards of a job.

    def no_files(self) -> list[str]:
        """No file; and what a killed run left unfinished is made again, whether or not the command line says so."""
        if self.run is not None:
            self.run.dag_settings.force_incomplete = True
        return []

    def parts_done(self, checkpoints: Any) -> list[str]:
        """The marks of all parts that this run makes; the demo study is made first."""
        self.no_files()
        self._wait_for_study(checkpoints)
        return [self.part_done.format(part=part) for part in self.parts]

    def wait_for_sessions(self, checkpoints: Any) -> list[str]:
        """No file, but only when every session is made."""
        self.no_files()
        self._wait_for_study(checkpoints)
        if self.run is None or self.run.is_main_process:
            for part in self.parts:
                checkpoints.sessions.get(part=part)
        return []

    def _wait_for_study(self, checkpoints: Any) -> None:
        if self.is_demo:
            checkpoints.demo.get()
        if self.inbox is not None and (self.run is None or self.run.is_main_process):
            checkpoints.intake.get()

    # Params: what a rule's results depend on besides its input files.

    def settings_for(self, *sections: str) -> str:
        """The values of some sections as JSON on one line: what a step is given, and nothing it does not use."""
        return compact_json(self.settings.model_dump(mode="json", include=set(sections)))

    @staticmethod
    def source(*steps: str) -> str:
        """Fingerprint of all code of the package that these modules use."""
        return source_hash(*(f"firstrocker.{step}" for step in steps))

    # Hooks: the beginning of the work, and words for the end of a run.

    def stop_promptly(self) -> None:
        """A request to end the run ends its jobs too; those of a cluster are Snakemake's affair."""
        if self.run is not None and self.run.local_exec and self.run.is_main_process:
            stop_promptly()

    def tell(self, *, failed: bool = False) -> None:
        """Print the closing lines on standard error, where Snakemake's own go; after a failure what is missing."""
        missing = not_made(self.results, self.wanted) if failed and self.inbox is None else []
        sys.stderr.writelines(f"{line}\n" for line in self.closing_lines() + missing)

    def closing_lines(self) -> list[str]:
        """What is to be said of the sessions; of an inbox what someone has to do, once and again after some days."""
        if self.inbox is not None:
            return morning(self.study, self.results, remind_days=self.settings.nightly.remind_days).lines()
        return closing_lines(self.study, self.results)


def plan_run(config: Mapping[str, Any], *, home: Path | str, run: Any = None) -> Plan:
    """:meth:`Plan.from_config` for a Snakefile, and the beginning of the run.

    A run that makes something has its results folder and its working directory to itself from here on. A user's mistake
    ends the run with its sentence and no traceback.

    Args:
        config: Snakemake's configuration.
        home: the folder of the Snakefile.
        run: Snakemake's own account of this run, its ``workflow``.
    """
    try:
        plan = Plan.from_config(config, home=home, run=run)
        if run is not None and run.is_main_process and not run.output_settings.dryrun:
            if run.local_exec:
                end_with_starter()
            begin_run(plan.results)
    except FirstrockerError as mistake:
        from snakemake.exceptions import WorkflowError

        raise WorkflowError(str(mistake)) from None
    return plan
