"""What the workflow made: the report, tables, the letter, everything in one file, the person's course."""

from __future__ import annotations

import io
import tempfile
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from starlette.responses import FileResponse, HTMLResponse, Response, StreamingResponse

from firstrocker.layout import SessionName
from firstrocker.web import people
from firstrocker.web.kit import Visit, go
from firstrocker.web.pages.people import course_pages
from firstrocker.web.people import NotThere, Session
from firstrocker.web.results import files_of, folder_of
from firstrocker.web.sealed import sealed

KINDS = {
    ".parquet": "application/vnd.apache.parquet",
    ".json": "application/json",
    ".csv": "text/csv; charset=utf-8",
    ".pdf": "application/pdf",
    ".svg": "application/octet-stream",
}
"""Everything but pages is for keeping, not for showing: a browser is told to save it."""


def report_page(visit: Visit) -> Response:
    """The report within the clinic's page."""
    session = _session(visit)
    if "report.html" not in files_of(folder_of(visit.services.place, session)):
        raise NotThere
    return visit.page(
        "framed.html.j2",
        title=f"{session.person.code}, session {session.label}",
        address=f"/sessions/{session.key}/files/report.html",
        back=f"/sessions/{session.key}",
        back_words=f"Session {session.label}",
    )


def session_file(visit: Visit) -> Response:
    """One file of a session's results, or one of its tables as CSV."""
    session, name = _session(visit), visit.key("name")
    files = files_of(folder_of(visit.services.place, session))
    stem = f"{session.person.code}_{session.label}_"
    if name.endswith(".csv") and f"{name[:-4]}.parquet" in files:
        visit.record("downloaded", about=session.key, detail=name)
        return _kept(Response(_as_csv(files[f"{name[:-4]}.parquet"]), media_type=KINDS[".csv"]), stem + name)
    if name not in files:
        raise NotThere
    visit.record("saw report" if name == "report.html" else "downloaded", about=session.key, detail=name)
    if files[name].suffix == ".html":
        return sealed_page(files[name])
    kind = KINDS.get(files[name].suffix, "application/octet-stream")
    return FileResponse(files[name], media_type=kind, filename=stem + name)


def session_zip(visit: Visit) -> Response:
    """Everything of a session in one file: the logs as the workflow read them, and what it made."""
    session = _session(visit)
    place = visit.services.place.person(session.person.key)
    name = SessionName(session.person.code, session.label).folder
    folders = [("study", place.study / name), ("results", place.results / name)]
    visit.record("downloaded", about=session.key, detail="all")
    return _zip(folders, f"{session.person.code}_{session.label}.zip", below=name)


def course_page(visit: Visit) -> Response:
    """The person's sessions side by side, within the clinic's page."""
    with visit.store.reading() as connection:
        person = people.find_person(connection, visit.account.clinic, visit.key())
    pages = course_pages(visit.services.place.person(person.key).results, person.code)
    if not pages:
        raise NotThere
    return visit.page(
        "framed.html.j2",
        title=f"{person.code}, all sessions",
        address=f"/people/{person.key}/course/{pages[0].name}",
        back=f"/people/{person.key}",
        back_words=person.code,
    )


def course_file(visit: Visit) -> Response:
    """The page that sets the person's sessions side by side."""
    with visit.store.reading() as connection:
        person = people.find_person(connection, visit.account.clinic, visit.key())
    pages = course_pages(visit.services.place.person(person.key).results, person.code)
    found = {path.name: path for path in pages}.get(visit.key("name"))
    if found is None:
        raise NotThere
    visit.record("saw course", about=person.key)
    return sealed_page(found)


def course_of_session(visit: Visit) -> Response:
    """Where a session's report leads: the page over all sessions of its person."""
    return go(f"/people/{_session(visit).person.key}/course/course.html")


def report_of_label(visit: Visit) -> Response:
    """Where the page over all sessions leads: the report of the session of that label."""
    with visit.store.reading() as connection:
        person = people.find_person(connection, visit.account.clinic, visit.key())
        found = {one.label: one.key for one in people.sessions_of(connection, person)}.get(visit.key("label"))
    if found is None:
        raise NotThere
    return go(f"/sessions/{found}/files/report.html")


def sealed_page(path: Path) -> Response:
    """A page of the workflow, sealed."""
    text, policy = sealed(path.read_text(encoding="utf-8"))
    return HTMLResponse(text, headers={"content-security-policy": policy})


def _session(visit: Visit) -> Session:
    with visit.store.reading() as connection:
        return people.find_session(connection, visit.account.clinic, visit.key())


def _kept(answer: Response, name: str) -> Response:
    answer.headers["content-disposition"] = f'attachment; filename="{name}"'
    return answer


def _as_csv(path: Path) -> bytes:
    from pyarrow import csv

    from firstrocker.files import read_table

    written = io.BytesIO()
    csv.write_csv(read_table(path), written)
    return written.getvalue()


def _zip(folders: list[tuple[str, Path]], name: str, *, below: str) -> Response:
    file: IO[bytes] = tempfile.TemporaryFile()  # noqa: SIM115  (closed when the last piece is out)
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for title, folder in folders:
            for path in sorted(folder.rglob("*")):
                if path.is_file() and not path.name.startswith("."):
                    archive.write(path, f"{title}/{below}/{path.relative_to(folder)}")
    length = file.tell()
    file.seek(0)

    def pieces() -> Iterator[bytes]:
        with file:
            while piece := file.read(256 * 1024):
                yield piece

    answer = StreamingResponse(pieces(), media_type="application/zip", headers={"content-length": str(length)})
    return _kept(answer, name)
