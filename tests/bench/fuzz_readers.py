"""Feed the readers with damaged files until something other than a plain sentence comes of it.

Needs a library that is no part of the test extra: ``pip install atheris`` (Linux, CPython 3.11 to 3.13). What it found
is kept in ``tests/signals/test_hostile_files.py``. Run from the repository's top, for ten minutes each:

    PYTHONPATH=tests python tests/bench/fuzz_readers.py text -max_total_time=600

The first word is what is fed: text, packed, parquet, yaml or describe; what follows goes to the fuzzer. A file that
breaks something is left in the folder it was started in, unless ``-artifact_prefix=FOLDER/`` says otherwise.
"""

from __future__ import annotations

import gzip
import io
import sys
import warnings
import zipfile
from collections.abc import Callable
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import atheris  # type: ignore[import-untyped, import-not-found, unused-ignore]

with atheris.instrument_imports(include=["firstrocker.signals"]):
    from firstrocker.errors import FirstrockerError
    from firstrocker.signals.describe import describe
    from firstrocker.signals.profiles import LoggerProfile, load_profile
    from firstrocker.signals.readers import read_log
    from firstrocker.signals.session import load_session

import numpy as np
import pyarrow as pa
import yaml
from pyarrow import parquet

from signals.made import HEADER, PROFILE, session_content

ROWS = 60
_UNTIMED = {key: value for key, value in PROFILE["columns"].items() if key != "time"}
_RATES = {"acceleration": "g", "angular_velocity": "deg/s"}
_PLACES = {"time": 1, "acceleration": [2, 3, 4], "angular_velocity": [5, 6, 7]}
PROFILES = [
    LoggerProfile.model_validate(content)
    for content in (
        PROFILE,
        PROFILE | {"delimiter": ";", "decimal": ",", "comment": "#"},
        PROFILE | {"delimiter": "spaces", "skip_rows": 1, "skip_below": 1},
        PROFILE | {"units": _RATES | {"time": "iso8601"}, "delimiter": "tab"},
        {"columns": _UNTIMED, "units": _RATES, "counter": {"column": "t"}, "sampling_rate_hz": 100},
        PROFILE | {"rows": {"column": "unit", "equals": 3}},
        PROFILE | {"columns": _PLACES, "header": False},
    )
]


def plain_log(delimiter: str = ",", decimal: str = ".") -> str:
    """A short log of a made-up swing."""
    time = np.arange(ROWS) / 25.0
    swing = np.sin(2 * np.pi * time)
    columns = [time, 0.1 * swing, swing, 9.8 + swing, 3 * swing, 0.2 * swing, np.round(3 + 0 * swing)]
    rows = [delimiter.join(f"{value:.2f}".replace(".", decimal) for value in row) for row in zip(*columns, strict=True)]
    return "\n".join([delimiter.join(HEADER), *rows]) + "\n"


def seeds(what: str) -> list[bytes]:
    """Sound files to begin with."""
    text = plain_log().encode()
    if what == "packed":
        kept = io.BytesIO()
        with zipfile.ZipFile(kept, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("a.csv", text)
        return [gzip.compress(text), kept.getvalue()]
    if what == "parquet":
        values = np.array([[float(cell) for cell in line.split(b",")] for line in text.split()[1:]])
        kept = io.BytesIO()
        parquet.write_table(pa.table(dict(zip(HEADER, values.T, strict=True))), kept, compression="none")
        return [kept.getvalue()]
    if what == "yaml":
        return [yaml.safe_dump(session_content()).encode(), yaml.safe_dump(PROFILE).encode()]
    spaced = "made up\n" + plain_log("  ").replace("\n", "\n- - - - - - -\n", 1)
    counted = "\n".join(f"{n % 32}{line[line.index(',') :]}" for n, line in enumerate(plain_log().split()))
    chosen = "\n".join(f"{line},{n % 3 + 2 if n else 'unit'}" for n, line in enumerate(plain_log().split()))
    return [
        chosen.encode(),
        text,
        plain_log(";", ",").encode(),
        spaced.encode(),
        text.decode().encode("utf-16"),
        counted.encode(),
    ]


def target(what: str, folder: Path) -> Callable[[bytes], None]:
    """What is to be fed: whatever it raises but a plain sentence, and whatever it warns of, is a bug."""

    def feed(content: bytes) -> None:
        if what == "yaml":
            session = folder / "sub-P01" / "ses-20260302"
            (session / "session.yaml").write_bytes(content)
            attempts: list[Callable[[], Any]] = [
                lambda: load_session(session),
                lambda: load_profile(session / "session.yaml"),
            ]
        else:
            path = folder / "log"
            path.write_bytes(content)
            attempts = [
                partial(read_log, path, profile=one, segment="foot", side="left", where="log") for one in PROFILES
            ]
            if what in ("packed", "parquet"):
                attempts = attempts[:1]
            if what == "describe":
                attempts = [lambda: describe(path)]
        for attempt in attempts:
            try:
                attempt()
            except FirstrockerError as error:
                if not error.what.endswith((".", "?")) or len(str(error)) > 20_000:
                    raise AssertionError(f"no plain sentence: {error}") from error

    return feed


def main() -> None:
    """Start the fuzzer with sound files as its first food."""
    what, *options = sys.argv[1:]
    warnings.simplefilter("error")
    with TemporaryDirectory() as place:
        folder = Path(place)
        (folder / "sub-P01" / "ses-20260302").mkdir(parents=True)
        corpus = folder / "corpus"
        corpus.mkdir()
        for n, content in enumerate(seeds(what)):
            (corpus / f"{n}").write_bytes(content)
        atheris.Setup(
            [sys.argv[0], "-max_len=8192", "-timeout=20", "-rss_limit_mb=3000", *options, str(corpus)],
            target(what, folder),
        )
        atheris.Fuzz()


if __name__ == "__main__":
    main()
