"""What a transfer that has not come to its end leaves in an inbox waits, and is told when it does not go on."""

from __future__ import annotations

import gzip
import io
import zipfile

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from nightly.inboxes import Place, log_text, row, write, write_folder


def parquet(rows: int) -> bytes:
    sink = io.BytesIO()
    pq.write_table(pa.table({"t": [n / 100 for n in range(rows)]}), sink)
    return sink.getvalue()


def zipped(text: str) -> bytes:
    sink = io.BytesIO()
    with zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.csv", text)
    return sink.getvalue()


WHOLE = {
    "text": log_text(1).encode(),
    "text without a last line's end": log_text(1).encode().rstrip(),
    "UTF-16": log_text(1).encode("utf-16"),
    "gzip": gzip.compress(log_text(1).encode()),
    "zip": zipped(log_text(1)),
    "parquet": parquet(100),
}
HALF = {
    "nothing": b"",
    "a last line that is cut": log_text(1).encode()[:-20],
    "not one line": log_text(1).encode()[:10],
    "zeros to the end": log_text(1).encode()[:-600] + bytes(600),
    "UTF-16 cut": log_text(1).encode("utf-16")[:-21],
    "gzip": WHOLE["gzip"][:-9],
    "zip": WHOLE["zip"][:-30],
    "parquet": WHOLE["parquet"][:-5],
}


@pytest.mark.parametrize("kind", WHOLE)
def test_a_whole_log_of_any_kind_is_taken(place: Place, kind: str) -> None:
    folder = write_folder(place.inbox, "P01", "1", seed=1)
    write(folder / "a_foot.csv", WHOLE[kind])
    assert set(place.states(place.look(24)).values()) == {"taken"}


@pytest.mark.parametrize("kind", HALF)
def test_a_half_log_waits_and_its_session_with_it(place: Place, kind: str) -> None:
    folder = write_folder(place.inbox, "P01", "1", seed=1)
    write(folder / "a_foot.csv", HALF[kind])
    place.look(0)
    night = place.look(24)
    half = row(night, "sub-P01/ses-1/a_foot.csv")
    assert half["state"] == "waiting"
    assert half["reason"].endswith("The rest may still come.")
    assert row(night, "sub-P01/ses-1/a_shank.csv")["reason"].startswith("Lies with a_foot.csv")
    assert row(place.look(24), "sub-P01/ses-1/a_foot.csv")["waiting_h"] == pytest.approx(24, abs=0.1)
    assert place.files() == {}
    late = place.look(100)
    if kind in ("a last line that is cut", "UTF-16 cut"):
        assert set(place.states(late).values()) == {"taken"}
        assert "taken as it is" in row(late, "sub-P01/ses-1/a_foot.csv")["reason"]
    else:
        assert set(place.states(late).values()) == {"quarantined"}
        assert sum(one["needs_person"] for one in late.rows) == 1
        assert place.files() == {}
    write(folder / "a_foot.csv", log_text(1))
    assert set(place.states(place.look(24)).values()) == {"taken"}


@pytest.mark.parametrize(
    "name", [".a_foot.csv.Xy12ab", "a_foot.csv.part", "~a_foot.csv.tmp", ".rsync-partial/a_foot.csv"]
)
def test_a_transfer_s_own_name_waits_then_is_told(place: Place, name: str) -> None:
    folder = write_folder(place.inbox, "P01", "1", seed=1)
    write(folder / name, log_text(1)[:200])
    place.look(0)
    night = place.look(24)
    assert row(night, f"sub-P01/ses-1/{name}")["state"] == "waiting"
    assert place.files() == {}
    assert row(place.look(100), f"sub-P01/ses-1/{name}")["state"] == "quarantined"
    (folder / name).unlink()
    assert len(place.look(1).taken) == 1
