"""One session: where it stands, and watching its run."""

from __future__ import annotations

from typing import Any

from starlette.responses import Response

from firstrocker.layout import gravest_finding
from firstrocker.web import jobs, people
from firstrocker.web.kit import Visit, go
from firstrocker.web.results import files_of, folder_of, state_of
from firstrocker.web.words import stages_of


def session_page(visit: Visit) -> Response:
    """Where a session stands and what can be done with it."""
    values = _values(visit)
    if values["state"].run is None:
        return go(f"/sessions/{values['session'].key}/{'logs' if values['session'].details.slots else 'details'}")
    visit.record("saw session", about=values["session"].key)
    return visit.page("session.html.j2", **values)


def progress_part(visit: Visit) -> Response:
    """The part of the session's page that changes while it runs."""
    return visit.page("progress.html.j2", **_values(visit))


def _values(visit: Visit) -> dict[str, Any]:
    place = visit.services.place
    with visit.store.reading() as connection:
        session = people.find_session(connection, visit.account.clinic, visit.key())
        state = state_of(connection, place, session)
        before = jobs.waiting_before(connection, state.run) if state.run else 0
    names = list(files_of(folder_of(place, session)))
    finding = gravest_finding(state.quality) if state.quality.get("findings") else ""
    run = state.run
    return {
        "session": session,
        "state": state,
        "before": before,
        "stages": stages_of(run.stage if run else ""),
        "names": names,
        "tables": [name for name in names if name.endswith(".parquet")],
        "pages": [name for name in names if name.endswith(".html") and name != "report.html"],
        "others": [name for name in names if not name.endswith((".parquet", ".html"))],
        "finding": finding,
        "seconds": round(run.ended - run.queued) if run and run.ended else None,
    }
