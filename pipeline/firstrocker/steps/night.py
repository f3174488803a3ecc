"""A night in one command: the workflow over an inbox, quiet unless someone has something to do."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from firstrocker.errors import SettingsError
from firstrocker.guard import started_here, stopping
from firstrocker.inbox.morning import NEEDS_PERSON, morning, read_told, told_file
from firstrocker.inbox.take import PLACE
from firstrocker.layout import MADE, NIGHTLY
from firstrocker.mark import mark_if_there
from firstrocker.unfinished import sweep, unfinished
from firstrocker.workflow import Plan

PACKAGE_ROOT = Path(__file__).resolve().parents[2]
CLONE = PACKAGE_ROOT.parent
"""Where Snakefile and config lie, if the package was installed from there."""
FINE, BUG, USER_MISTAKE, LATER = 0, 1, 2, 75
"""Exit statuses, beside NEEDS_PERSON; 75 is "temporary failure" in sysexits.h of BSD."""
TARGETS = ("all",)
"""What a night makes: rules of the workflow."""
BUSY = "another run is at work here"
LAST_LINES = 30


def make_night(
    folders: Mapping[str, Path],
    *,
    cores: str,
    more: Sequence[str],
    configfile: Path | None = None,
    clone: Path = CLONE,
) -> int:
    """Run the workflow in the nightly profile, and say on standard error what someone has to do, if anything.

    Args:
        folders: inbox, study and results.
        cores: as Snakemake takes it.
        more: further ``key=value`` for Snakemake's configuration.
        configfile: a file with the study's settings.
        clone: where Snakefile and config lie.

    Returns:
        the exit status: 0 nothing to do, 3 someone has something to do, 75 another run was at work or this one
        was told to stop, 1 a bug.

    Raises:
        SettingsError: what was asked for cannot be run, or nothing can be written to where a night writes.
    """
    config = _config(folders, more, configfile)
    if not (clone / "Snakefile").is_file():
        remedy = "Name the folder of the repository: --clone PATH."
        raise SettingsError("there is no Snakefile beside this package.", where=str(clone), remedy=remedy)
    plan = Plan.from_config(config, home=clone)
    log = plan.results / "logs" / "night.log"
    for folder in (log.parent, plan.results / NIGHTLY, plan.results / MADE, plan.study / PLACE):
        _refuse_unwritable(folder)
    command = [
        *(sys.executable, "-m", "snakemake", "--snakefile", str(clone / "Snakefile")),
        *TARGETS,
        *("--profile", str(clone / "config" / "profiles" / "nightly"), "--cores", cores),
        *([] if configfile is None else ["--configfile", str(configfile)]),
        *("--config", *(f"{key}={path}" for key, path in folders.items()), *more),
    ]
    told = told_file(plan.results)
    before = mark_if_there(told)
    own = unfinished(log)
    with own.open("wb") as file:
        sweep(log.parent, os.fstat(file.fileno()).st_ctime)
        status, stopped = _run(command, file, cache=plan.results / MADE / "cache")
    said = own.read_text(encoding="utf-8", errors="replace")
    if status and BUSY in said:
        own.unlink()
        sys.stderr.write(f"{plan.results}: {BUSY}; this one ends without doing anything.\n")
        return LATER
    os.replace(own, log)
    fresh = mark_if_there(told) != before
    if status and stopped:
        lines = _read_morning(plan) if fresh else []  # what was put together counts as told
        sys.stderr.writelines(f"{line}\n" for line in lines)
        sys.stderr.write(f"{plan.results}: the night was told to stop; the next one goes on where it ended.\n")
        return NEEDS_PERSON if lines else LATER
    return _told(plan, said, status, log, fresh=fresh)


def _refuse_unwritable(folder: Path) -> None:
    """A disk that is full, read-only or another user's is said before anything is begun, not met half-way as a bug."""
    probe = unfinished(folder / "writable")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        probe.write_bytes(b"?")
        probe.unlink()
    except OSError as error:
        remedy = "See whether its disk is there and has room, and whose the folder is."
        raise SettingsError(
            f"nothing can be written there ({error.strerror}).", where=str(folder), remedy=remedy
        ) from None


def _told(plan: Plan, said: str, status: int, log: Path, *, fresh: bool) -> int:
    """What is to be said of a run that has ended."""
    told = _read_morning(plan, fresh=fresh)
    sys.stderr.writelines(f"{line}\n" for line in told)
    if status:
        last = "\n".join(said.strip().splitlines()[-LAST_LINES:])
        sys.stderr.write(f"The run ended with an error (status {status}); all of it stands in {log}:\n{last}\n")
        return BUG
    if not told:
        return FINE
    sys.stderr.write(f"What to do, and what was told before: {plan.results / NIGHTLY / 'morning.txt'}\n")
    return NEEDS_PERSON


def _read_morning(plan: Plan, *, fresh: bool = True) -> list[str]:
    """The lines that the run itself has put together at its end; where it did not come to that, put together now."""
    told = read_told(plan.results) if fresh else None
    if told is None:
        told = morning(plan.study, plan.results, remind_days=plan.settings.nightly.remind_days).to_do
    return [item.line() for item in told]


def _config(folders: Mapping[str, Path], more: Sequence[str], configfile: Path | None) -> dict[str, Any]:
    """What Snakemake will be told, to be looked at before it is started."""
    import yaml

    config: dict[str, Any] = {}
    if configfile is not None:
        try:
            config |= yaml.safe_load(configfile.read_text(encoding="utf-8")) or {}
        except (OSError, yaml.YAMLError, UnicodeDecodeError, TypeError) as error:
            what = f"cannot be read: {' '.join(str(error).split())}."
            raise SettingsError(what, where=str(configfile), remedy="Mend the file or its path.") from None
    for word in more:
        key, equals, value = word.partition("=")
        if not equals:
            raise SettingsError("this is not key=value.", where=word, remedy="Write for example loggers=PATH.")
        config[key] = yaml.safe_load(value)
    return config | {key: str(path) for key, path in folders.items()}


def _has_cache() -> bool:
    try:
        place = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "snakemake"
        place.mkdir(parents=True, exist_ok=True)
    except (OSError, RuntimeError):  # RuntimeError: no home is known
        return False
    return os.access(place, os.W_OK)


def _run(command: Sequence[str], output: Any, *, cache: Path) -> tuple[int, bool]:
    """Run a command to its end, which comes with that of this process; its status, and whether it was asked to end.

    Snakemake keeps a cache below the user's home, which a user of services may not have, or be kept from; ``cache`` is
    for those.
    """
    package = str(PACKAGE_ROOT)
    path = os.pathsep.join(part for part in (package, os.environ.get("PYTHONPATH", "")) if part)
    asked = False
    process: subprocess.Popen[bytes] | None = None

    def stop() -> None:
        nonlocal asked
        asked = True
        if process is not None:
            process.terminate()

    with stopping(stop):
        process = subprocess.Popen(  # noqa: S603  (our own command line)
            command,
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
            env=started_here(os.environ)
            | {"PYTHONPATH": path}
            | ({} if _has_cache() else {"XDG_CACHE_HOME": str(cache.resolve())}),
        )
        if asked:
            process.terminate()
        status = process.wait()
    return status, asked
