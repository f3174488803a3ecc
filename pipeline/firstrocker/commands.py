"""What each sub-command of the command line does: read what was given, call the step.

Each imports only what it uses, for start-up costs more than work.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from firstrocker.errors import SettingsError

if TYPE_CHECKING:
    from firstrocker.settings import Settings

USER_MISTAKE = 2
"""Exit status where what was asked for cannot be done; a bug ends with a traceback and status 1."""


def _read_settings(given: str) -> Settings:
    import yaml

    from firstrocker.settings import load_settings

    inline = given.lstrip().startswith("{")
    where = "--settings" if inline else given
    try:
        data = yaml.safe_load(given if inline else Path(given).read_text(encoding="utf-8"))
    except OSError as error:
        raise SettingsError(f"cannot be read: {error.strerror}.", where=where, remedy="Mend the path.") from None
    except (yaml.YAMLError, UnicodeDecodeError) as error:
        raise SettingsError(f"is not YAML: {' '.join(str(error).split())}.", where=where) from None
    if isinstance(data, dict) and set(data) == {"settings"}:
        data = data["settings"]
    return load_settings(data, where=where)


def demo(options: argparse.Namespace) -> None:
    """``firstrocker demo``."""
    from firstrocker.steps.demo import make_demo

    make_demo(options.folder, seed=options.seed)


def check(options: argparse.Namespace) -> int:
    """``firstrocker check``."""
    import shutil

    from firstrocker.steps.check import check_study, told

    troubles = check_study(options.study, settings=_read_settings(options.settings), loggers=options.loggers)
    print(told(troubles, width=shutil.get_terminal_size((120, 40)).columns), end="")
    return int(any(trouble.severity == "error" for trouble in troubles))


def bids(options: argparse.Namespace) -> None:
    """``firstrocker bids``."""
    from firstrocker.steps.bids import export_results, export_study

    if options.results is not None:
        export_results(options.results, options.out)
        return
    settings = _read_settings(options.settings)
    for sentence in export_study(options.study, options.out, settings=settings, loggers=options.loggers):
        print(sentence, file=sys.stderr)


def describe(options: argparse.Namespace) -> int:
    """``firstrocker describe``."""
    from firstrocker.steps.describe import describe_log

    text, troubles = describe_log(options.file)
    print(text, end="")
    for trouble in troubles:
        print(f"firstrocker describe: {trouble}", file=sys.stderr)
    return USER_MISTAKE if troubles else 0


def strides(options: argparse.Namespace) -> None:
    """``firstrocker strides``."""
    from firstrocker.steps.strides import make_strides

    make_strides(options.session, options.out, settings=_read_settings(options.settings), loggers=options.loggers)


def study(options: argparse.Namespace) -> None:
    """``firstrocker study``."""
    from firstrocker.steps.letter import make_letter
    from firstrocker.steps.report import make_report
    from firstrocker.steps.study import make_study

    settings = _read_settings(options.settings)
    make_study(options.results, settings=settings)
    make_report(options.results, settings=settings, follow_up=options.follow_up)
    make_letter(options.results, settings=settings)


def sessions(options: argparse.Namespace) -> int:
    """``firstrocker sessions``."""
    from firstrocker.layout import part_ends
    from firstrocker.steps.sessions import Folders, make_sessions

    first, last = part_ends(options.part)
    folders = Folders(options.study, options.results, options.loggers)
    options.log.parent.mkdir(parents=True, exist_ok=True)
    with options.log.open("w", encoding="utf-8") as log:
        failed = make_sessions(
            folders,
            first,
            last,
            settings=_read_settings(options.settings),
            processes=options.processes,
            log=log,
            keep=[] if getattr(options, "lock", None) is None else [options.lock],
            unwatched=options.unwatched,
        )
    for name, why in failed.items():
        print(f"{name.folder}: {why}; see {options.results / 'logs' / name.folder}.log", file=sys.stderr)
    return 1 if failed else 0


def intake(options: argparse.Namespace) -> None:
    """``firstrocker intake``."""
    from firstrocker.steps.intake import make_intake

    make_intake(options.inbox, options.study, options.results, settings=_read_settings(options.settings))


def night(options: argparse.Namespace) -> int:
    """``firstrocker night``."""
    from firstrocker.steps.night import make_night

    folders = {"inbox": options.inbox, "study": options.study, "results": options.results}
    return make_night(
        folders, cores=options.cores, more=options.config, configfile=options.configfile, clone=options.clone
    )


def worker(options: argparse.Namespace) -> None:
    """``firstrocker worker``."""
    from firstrocker.steps.sessions import serve_sessions

    serve_sessions()


def report(options: argparse.Namespace) -> None:
    """``firstrocker report``."""
    from firstrocker.steps.report import make_report

    make_report(options.results, settings=_read_settings(options.settings), follow_up=options.follow_up)


def pdf(options: argparse.Namespace) -> None:
    """``firstrocker pdf``."""
    from firstrocker.steps.pdf import make_pdf

    make_pdf(options.page, options.out)


def courses(options: argparse.Namespace) -> None:
    """``firstrocker courses``."""
    from firstrocker.steps.course import make_courses

    make_courses(options.study, options.results, settings=_read_settings(options.settings))


def cohort(options: argparse.Namespace) -> None:
    """``firstrocker cohort``."""
    from firstrocker.steps.cohort import make_cohort

    make_cohort(options.study, options.results, settings=_read_settings(options.settings))


def trend(options: argparse.Namespace) -> None:
    """``firstrocker trend``."""
    from firstrocker.steps.trend import make_trend

    make_trend(options.study, options.results, settings=_read_settings(options.settings))


def digest(options: argparse.Namespace) -> None:
    """``firstrocker digest``."""
    from firstrocker.steps.digest import make_digest

    make_digest(options.study, options.results, settings=_read_settings(options.settings))


def settings(options: argparse.Namespace) -> None:
    """``firstrocker settings``."""
    from firstrocker.settings_text import settings_markdown, settings_schema, settings_yaml, write_settings

    if options.write is not None:
        from firstrocker.faults_text import write_faults

        changed = dict.fromkeys([*write_settings(options.write), *write_faults(options.write)])
        print("".join(f"{path}\n" for path in changed), end="")
    elif options.form == "markdown":
        print(settings_markdown(), end="")
    elif options.form == "schema":
        import json

        print(json.dumps(settings_schema(), indent=2))
    else:
        print(settings_yaml(), end="")


def validate(options: argparse.Namespace) -> None:
    """``firstrocker validate``."""
    from firstrocker.steps.validate import make_accuracy_table

    print(make_accuracy_table(options.out, processes=options.processes), end="")


def serve(options: argparse.Namespace) -> None:
    """``firstrocker serve``."""
    from firstrocker.web.commands import serve
    from firstrocker.web.options import Options

    where = Options(options.host, options.port, options.origin)
    serve(options.data, where, cores=options.cores, at_once=options.at_once)


def account(options: argparse.Namespace) -> None:
    """``firstrocker account``."""
    from firstrocker.web.commands import add_account

    add_account(options.data, name=options.name, clinic=options.clinic, role=options.role)


def backup(options: argparse.Namespace) -> None:
    """``firstrocker backup``."""
    from firstrocker.web.backup import back_up

    back_up(options.data, options.file)


def restore(options: argparse.Namespace) -> None:
    """``firstrocker restore``."""
    from firstrocker.web.backup import restore

    restore(options.file, options.data)
