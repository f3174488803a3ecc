"""The largest files and the worst bombs take bounded memory; what cannot be opened is told."""

from __future__ import annotations

import gzip
import io
import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from firstrocker.errors import LogError
from firstrocker.signals.packed import MAX_BYTES
from firstrocker.signals.profiles import LoggerProfile
from firstrocker.signals.readers import read_log
from firstrocker.signals.table import MAX_ROWS
from signals.made import HEADER, PROFILE, foot_log, rows_of, write_csv

ROWS = rows_of(foot_log(stop_s=6.0))
MOST_MEMORY = 2_000_000_000
"""Bytes that reading any file may take in all, what Python and its libraries need among them."""


def refused(path: Path) -> str:
    with pytest.raises(LogError) as caught:
        read_log(path, profile=LoggerProfile.model_validate(PROFILE), segment="foot", side="left", where="a.csv")
    return str(caught.value)


# Memory: measured from outside, in a process of its own.

_READ = """
import resource, sys
from pathlib import Path
from firstrocker.errors import FirstrockerError
from firstrocker.signals.describe import describe
from firstrocker.signals.profiles import LoggerProfile
from firstrocker.signals.readers import read_log
from signals.made import PROFILE
path, profile = Path(sys.argv[1]), LoggerProfile.model_validate(PROFILE)
for deed in (lambda: read_log(path, profile=profile, segment="foot", side="left", where="a"), lambda: describe(path)):
    try:
        deed()
    except FirstrockerError as error:
        print(str(error)[:200])
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024)
"""


def most_memory(path: Path) -> int:
    """Bytes that reading and describing a file takes in all."""
    place = Path(__file__).resolve().parents[1]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join([str(place), str(place.parent / "pipeline")])}
    told = subprocess.run(
        [sys.executable, "-c", _READ, path], env=environment, capture_output=True, text=True, check=True
    )
    assert told.stderr == ""
    return int(told.stdout.split()[-1])


def bomb(kind: str) -> bytes:
    if kind == "gzip":
        return gzip.compress(bytes(MAX_BYTES + 1), 9)
    if kind == "gzip of gzip":
        return gzip.compress(gzip.compress(bytes(MAX_BYTES)))
    if kind == "zip":
        kept = io.BytesIO()
        with zipfile.ZipFile(kept, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("a.csv", bytes(MAX_BYTES + 1))
        return kept.getvalue()
    if kind == "parquet":
        kept = io.BytesIO()
        zeros = pa.array(np.zeros(1_000_000))
        writer = pq.ParquetWriter(kept, pa.schema([(name, pa.float64()) for name in HEADER]))
        for _ in range(9):
            writer.write_table(pa.Table.from_arrays([zeros] * 7, HEADER))
        writer.close()
        return kept.getvalue()
    if kind == "the longest parquet":
        values = np.tile(ROWS, (-(-MAX_ROWS // len(ROWS)), 1))[:MAX_ROWS]
        values[:, 0] = np.arange(MAX_ROWS) / 200.0
        kept = io.BytesIO()
        pq.write_table(pa.table(dict(zip(HEADER, values.T, strict=True))), kept)
        return kept.getvalue()
    if kind == "short rows":
        return b"t,ax,ay,az,gx,gy,gz\n" + b"0,0,0,9,1,1,1\n" * 19_000_000
    line = b"0.01,0.1234567,0.1234567,9.8123456,0.1234567,0.1234567,0.1234567\n"
    return b"t,ax,ay,az,gx,gy,gz\n" + line * ((MAX_BYTES - 100) // len(line))


@pytest.mark.untraced
@pytest.mark.parametrize(
    "kind", ["gzip", "gzip of gzip", "zip", "parquet", "the longest parquet", "short rows", "the largest text"]
)
def test_no_file_takes_more_than_bounded_memory(tmp_path: Path, kind: str) -> None:
    (tmp_path / "a.any").write_bytes(bomb(kind))
    assert most_memory(tmp_path / "a.any") < MOST_MEMORY


def test_a_file_that_is_too_large_is_not_even_opened(tmp_path: Path) -> None:
    with (tmp_path / "a.csv").open("wb") as file:
        file.truncate(MAX_BYTES + 1)
    assert "larger than 256 MB" in refused(tmp_path / "a.csv")


# Files that cannot be opened.


def test_a_file_without_permission_is_told(tmp_path: Path) -> None:
    path = write_csv(tmp_path / "a.csv", ROWS)
    path.chmod(0)
    if os.getuid() != 0:
        assert "cannot be read: permission denied" in refused(path)
        return
    for folder in (tmp_path, *tmp_path.parents):
        if folder.stat().st_uid == 0 and not folder.stat().st_mode & 1:
            folder.chmod(folder.stat().st_mode | 0o055)
    # What Python needs is read before the rights are given up.
    code = _READ.replace("\nfor deed", "\nimport os; os.setuid(65534)\nfor deed")
    place = Path(__file__).resolve().parents[1]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join([str(place), str(place.parent / "pipeline")])}
    told = subprocess.run(
        [sys.executable, "-c", code, path], env=environment, capture_output=True, text=True, check=False
    )
    assert (told.stderr, told.returncode) == ("", 0)
    assert told.stdout.count("cannot be read: permission denied") == 2


def test_devices_pipes_folders_and_impossible_names(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    for name in ("pipe", "loop", "x" * 300, "a\0b", ".", "loop/x", "none/none"):
        told = refused(tmp_path / name)
        assert re.search(r"missing|no file|cannot be read", told), (name, told)
    assert "no file" in refused(Path(os.devnull))
