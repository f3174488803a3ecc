"""No space left while writing: the old file stays whole, nothing half-written is left, and the run says so."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

_WRITE = """
import resource, signal, sys
from pathlib import Path
import numpy, pyarrow, pyarrow.parquet
from firstrocker.files import write_json, write_table, write_text
path = Path(sys.argv[1])
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))
try:
    if path.suffix == ".parquet":
        write_table(path, pyarrow.table({"x": numpy.random.default_rng(0).random(100_000)}))
    elif path.suffix == ".json":
        write_json(path, ["x" * 100] * 1000)
    else:
        write_text(path, "x" * 1_000_000)
except OSError as error:
    print(error.strerror)
"""


@pytest.mark.parametrize("name", ["strides.parquet", "quality.json", "report.html"])
def test_a_full_disk_leaves_the_old_file_and_nothing_else(tmp_path: Path, name: str) -> None:
    # A limit on the size of files stands in for a disk that is full: writing fails in its midst either way.
    path = tmp_path / name
    path.write_text("the old one")
    told = subprocess.run([sys.executable, "-c", _WRITE, path], capture_output=True, text=True, check=True)
    assert "too large" in told.stdout.lower()
    assert path.read_text() == "the old one"
    assert [one.name for one in tmp_path.iterdir()] == [name]
