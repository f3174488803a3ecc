"""The command line: one sub-command per step; commands.py has what each does."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from firstrocker import __version__, commands
from firstrocker.commands import USER_MISTAKE
from firstrocker.errors import FirstrockerError


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one sub-command; returns the exit status."""
    # Sessions run side by side, one process each: threads within the linear algebra would only fight over the cores.
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    options = _parser().parse_args(arguments)
    run: Callable[[argparse.Namespace], int | None] = options.run
    try:
        if options.within is not None:
            from firstrocker.guard import live_within

            options.lock = live_within(options.within)
        return run(options) or 0
    except FirstrockerError as mistake:
        print(f"firstrocker {options.command}: {mistake}", file=sys.stderr)
        return USER_MISTAKE


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="firstrocker", description="What a drop-foot brace does, stride by stride.")
    parser.add_argument("--version", action="version", version=f"%(prog)s {__version__}")
    parser.add_argument(
        "--within", type=Path, metavar="RESULTS", help="as a job of a run on this results folder: end when the run does"
    )
    subparsers = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")

    def add(name: str, run: Callable[[argparse.Namespace], int | None], about: str) -> argparse.ArgumentParser:
        command = subparsers.add_parser(name, help=about, description=about)
        command.set_defaults(run=run)
        return command

    demo = add("demo", commands.demo, "write a study of invented people to try everything on")
    demo.add_argument("folder", type=Path, help="where; must not exist yet, or be empty")
    demo.add_argument("--seed", type=int, default=1, help="of the random numbers (default: %(default)s)")

    check = add(
        "check", commands.check, "read a whole study and say everything that is to be mended; compute nothing from it"
    )
    check.add_argument("study", type=Path, help="the study folder")
    _add_loggers(check)
    _add_settings(check)

    bids = add("bids", commands.bids, "write a study or its results as a Motion-BIDS dataset")
    bids.add_argument("out", type=Path, help="the dataset's folder; must not exist yet, or be empty")
    which = bids.add_mutually_exclusive_group(required=True)
    which.add_argument("--study", type=Path, help="a study folder: its logs become a dataset")
    which.add_argument("--results", type=Path, help="a results folder: its strides become a derivative dataset")
    _add_loggers(bids)
    _add_settings(bids)

    describe = add("describe", commands.describe, "look at a log of an unknown logger and propose a profile for it")
    describe.add_argument("file", type=Path, help="a log of some standing and a walk; of a zip: logs.zip/left.csv")

    strides = add("strides", commands.strides, "one session's logs to strides, curves and quality")
    strides.add_argument("--session", type=Path, required=True, help="the session's folder in the study")
    strides.add_argument("--out", type=Path, required=True, help="the session's folder in the results")
    strides.add_argument("--loggers", type=Path, required=True, help="folder of logger profiles")
    _add_settings(strides)

    study = add("study", commands.study, "one session's strides to summary, comparison, report and letter")
    study.add_argument("--results", type=Path, required=True, help="the session's folder in the results")
    _add_follow_up(study)
    _add_settings(study)

    report = add("report", commands.report, "one session's tables to its report alone")
    report.add_argument("--results", type=Path, required=True, help="the session's folder in the results")
    _add_follow_up(report)
    _add_settings(report)

    pdf = add("pdf", commands.pdf, "a report's page as PDF, by Debian's chromium")
    pdf.add_argument("page", type=Path, help="the report.html")
    pdf.add_argument("out", type=Path, help="the PDF to write")

    courses = add("courses", commands.courses, "the page of each person with several sessions")
    _add_folders(courses)
    _add_settings(courses)

    sessions = add("sessions", commands.sessions, "what is not yet made of many sessions, from logs to reports")
    _add_folders(sessions)
    sessions.add_argument("--loggers", type=Path, required=True, help="folder of logger profiles")
    sessions.add_argument("--part", required=True, help="the first and the last session, as P01_20260302-P09_20260304")
    sessions.add_argument("--processes", type=int, default=1, help="sessions at a time (default: %(default)s)")
    sessions.add_argument("--log", type=Path, required=True, help="file for what they have to say")
    sessions.add_argument("--unwatched", action="store_true", help="pass over what failed before and has not changed")
    _add_settings(sessions)
    add("worker", commands.worker, "one of the processes of the command sessions; not for use by hand")

    cohort = add("cohort", commands.cohort, "the results of all sessions of a study in one place")
    _add_folders(cohort)
    _add_settings(cohort)

    trend = add("trend", commands.trend, "each person's days at home, where they go, and alerts")
    _add_folders(trend)
    _add_settings(trend)

    digest = add("digest", commands.digest, "the page of the morning over the tables of trend")
    _add_folders(digest)
    _add_settings(digest)

    settings = add("settings", commands.settings, "print every setting")
    form = settings.add_mutually_exclusive_group()
    form.add_argument("--yaml", dest="form", action="store_const", const="yaml", help="as config/config.yaml (default)")
    form.add_argument("--markdown", dest="form", action="store_const", const="markdown", help="as tables to read")
    form.add_argument("--schema", dest="form", action="store_const", const="schema", help="as a JSON schema")
    form.add_argument(
        "--write", type=Path, metavar="CLONE", help="bring config/ of a clone in step; print what changed"
    )

    validate = add(
        "validate", commands.validate, "measure the errors on walks whose truth is known, and print the table"
    )
    validate.add_argument("--out", type=Path, help="write the table here too, as Markdown")
    validate.add_argument("--processes", type=int, default=1, help="walks analysed at a time (default: 1)")
    _add_nightly(add)
    _add_clinic(add)
    return parser


def _add_nightly(add: Callable[..., argparse.ArgumentParser]) -> None:
    """The sub-commands of a folder that loggers fill."""
    intake = add("intake", commands.intake, "take what is whole of an inbox into a study; say what became of the rest")
    intake.add_argument("--inbox", type=Path, required=True, help="the folder that loggers fill; it is not changed")
    _add_folders(intake)
    _add_settings(intake)

    night = add(
        "night", commands.night, "the nightly run over an inbox; status 0, or 3 where someone has something to do"
    )
    night.add_argument("inbox", type=Path, help="the folder that loggers fill")
    _add_folders(night)
    night.add_argument("--cores", default="all", help="(default: %(default)s)")
    night.add_argument("--configfile", type=Path, help="a YAML file with settings of the study")
    night.add_argument("--clone", type=Path, default=Path(__file__).resolve().parents[2], help="where Snakefile lies")
    night.add_argument(
        "--config", nargs="*", default=[], metavar="KEY=VALUE", help="more for snakemake's --config, as loggers=PATH"
    )


def _add_clinic(add: Callable[..., argparse.ArgumentParser]) -> None:
    """The sub-commands of the clinic's page."""
    serve = add("serve", commands.serve, "the clinic's page, in a browser on this machine")
    _add_data(serve)
    serve.add_argument("--port", type=int, default=8000, help="where it listens (default: %(default)s)")
    serve.add_argument("--host", default="127.0.0.1", help="the address it listens on (default: this machine alone)")
    serve.add_argument("--origin", default="", help="https://NAME where a proxy takes the connections")
    serve.add_argument("--cores", type=int, default=2, help="for each run (default: %(default)s)")
    serve.add_argument("--at-once", type=int, default=1, help="runs side by side (default: %(default)s)")

    account = add("account", commands.account, "make an account of the clinic's page; the password is asked for")
    account.add_argument("do", choices=["add"])
    account.add_argument("name", help="to sign in with")
    account.add_argument("--clinic", required=True, help="whose people the account sees")
    account.add_argument("--role", choices=["clinician", "admin"], default="clinician", help="(default: %(default)s)")
    _add_data(account)

    backup = add("backup", commands.backup, "everything of the clinic's page in one file, while it runs or not")
    backup.add_argument("file", type=Path, help="to write, a zip; keep it as safe as the data")
    _add_data(backup)

    restore = add("restore", commands.restore, "a backup into a new folder")
    restore.add_argument("file", type=Path, help="a backup")
    _add_data(restore)


def _add_data(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--data",
        type=Path,
        default=Path.home() / "firstrocker-clinic",
        help="the folder that holds everything (default: %(default)s)",
    )


def _add_loggers(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--loggers", type=Path, default=Path("config/loggers"), help="folder of logger profiles (default: %(default)s)"
    )


def _add_folders(command: argparse.ArgumentParser) -> None:
    command.add_argument("--study", type=Path, required=True, help="the study folder: its sessions are the ones meant")
    command.add_argument("--results", type=Path, required=True, help="the results folder")


def _add_settings(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--settings", default="{}", help="a YAML file with settings, or the settings themselves as {JSON}"
    )


def _add_follow_up(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--follow-up", action="store_true", help="the person has other sessions: let the report lead to course.html"
    )
