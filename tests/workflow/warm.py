"""A process that has imported Snakemake and forks a run for whoever asks: to start it anew costs more than most runs.

It is given a run as a line of JSON and answers with its exit status. Of the project's own package it knows nothing, so
that each run imports it from where it is told.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from collections.abc import Sequence

LONGEST_S = 300


def main() -> None:
    """Take runs until standard input ends."""
    from snakemake import cli

    cli.get_argument_parser()  # which imports what is plugged in
    assert "firstrocker" not in sys.modules
    for line in sys.stdin:
        given = json.loads(line)
        child = os.fork()
        if child == 0:
            prepare(**given)
            cli.main(given["arguments"])
            sys.exit()
        print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)


def prepare(*, folder: str, environment: dict[str, str], output: str, arguments: Sequence[str]) -> None:
    """Make of this process what ``python -m snakemake`` would be there; one that hangs is ended."""
    signal.alarm(LONGEST_S)
    os.chdir(folder)
    os.environ.clear()
    os.environ.update(environment)
    sys.path[:1] = [folder, *environment["PYTHONPATH"].split(os.pathsep)]
    sys.argv = ["snakemake", *arguments]
    written = os.open(output, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    nothing = os.open(os.devnull, os.O_RDONLY)
    for wanted, number in ((nothing, 0), (written, 1), (written, 2)):
        os.dup2(wanted, number)


if __name__ == "__main__":
    main()
