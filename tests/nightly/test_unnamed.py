"""Files in a session's folder that its session.yaml does not name."""

from __future__ import annotations

import gzip
import io
import zipfile
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from firstrocker.inbox.unnamed import may_be_log
from nightly.inboxes import SESSION, Place, log_text, row, write, write_folder


def test_a_stray_log_stays_in_the_inbox_and_the_session_is_taken_without_it(place: Place) -> None:
    folder = write_folder(place.inbox, "P01", "1", seed=1)
    write(folder / "b_foot.csv", log_text(9))
    write(folder / "notes.txt", "She came by bus; 3 steps at the door.\n")
    night = place.look(24)
    stray, note = (row(night, f"sub-P01/ses-1/{name}") for name in ("b_foot.csv", "notes.txt"))
    assert (stray["state"], stray["needs_person"]) == ("quarantined", True)
    assert "session.yaml does not name it" in stray["reason"]
    assert "another person's" in stray["remedy"]
    assert (note["state"], note["needs_person"]) == ("taken", False)
    assert "nothing reads it" in note["reason"]
    assert [str(name.folder) for name in night.taken] == ["sub-P01/ses-1"]
    names = {Path(path).name for path in place.files()}
    assert names == {"session.yaml", "a_foot.csv", "a_shank.csv", "notes.txt"}

    again = place.look()
    assert again.taken == ()
    assert row(again, "sub-P01/ses-1/b_foot.csv")["state"] == "quarantined"
    assert place.states(again) == place.states(night)


def test_a_stray_log_that_is_named_later_is_taken(place: Place) -> None:
    folder = write_folder(place.inbox, "P01", "1", seed=1)
    write(folder / "b_foot.csv", log_text(9))
    place.look(24)
    more = "  - {walk: b, condition: unbraced, logs: [{segment: foot, side: left, file: b_foot.csv, logger: dock}]}\n"
    write(folder / "session.yaml", SESSION.format(subject="P01", session="1") + more)
    night = place.look(24)
    assert set(place.states(night).values()) == {"taken"}
    assert "sub-P01/ses-1/b_foot.csv" in place.files()


def zipped(name: str) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as packed:
        packed.writestr(name, log_text(1))
    return held.getvalue()


def parquet(columns: int) -> bytes:
    held = io.BytesIO()
    pq.write_table(pa.table({f"c{n}": [0.5] * 60 for n in range(columns)}), held)
    return held.getvalue()


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (log_text(1).encode(), True),
        (log_text(1).replace(",", ";").encode("utf-16"), True),
        (gzip.compress(log_text(1).encode()), True),
        (gzip.compress(log_text(1).encode())[:40], True),
        (zipped("left.csv"), True),
        (zipped("word/document.xml"), False),
        (parquet(7), True),
        (parquet(3), False),
        (b"PAR1 and then nothing", True),
        (b"7z\xbc\xaf\x27\x1c", True),
        (b"Walked well. Brace set to 50.\n", False),
        (b"", False),
        (b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 8, False),
        (b"date,weight\n2026-03-02,71\n2026-03-09,70\n", False),
    ],
)
def test_what_may_be_a_log(tmp_path: Path, content: bytes, expected: bool) -> None:
    path = tmp_path / "thing"
    path.write_bytes(content)
    assert may_be_log(path) is expected
