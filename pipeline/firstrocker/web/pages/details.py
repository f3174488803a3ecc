"""What was worn and walked: the first half of handing a session in, and of correcting one."""

from __future__ import annotations

import re

from starlette.responses import Response

from firstrocker.web import audit, people
from firstrocker.web.details import MOST_WALKS, Details, WalkEntry, details_of
from firstrocker.web.kit import Visit, go
from firstrocker.web.people import RecordError, Session

SYSTEMS = ("EU", "UK", "US-men", "US-women", "mondopoint")
FEWEST_ROWS = 4


def details_page(visit: Visit) -> Response:
    """The form."""
    with visit.store.reading() as connection:
        session = people.find_session(connection, visit.account.clinic, visit.key())
    return _page(visit, session, session.details, label=session.label)


def save_details(visit: Visit) -> Response:
    """Write down what was filled in, whole or not; then on to the logs, or back for another walk."""
    form = visit.form
    numbers = sorted(int(m.group(1)) for name in form if (m := re.fullmatch(r"condition(\d{1,3})", name)))
    details = details_of(form, numbers)
    label = form.get("label", "").strip()
    with visit.store.reading() as connection:
        session = people.find_session(connection, visit.account.clinic, visit.key())
    if "more" in form:
        return _page(visit, session, _one_more(details), label=label)
    try:
        with visit.store.writing() as connection:
            people.change_session(connection, session, label=label, details=details)
            audit.record(
                connection,
                "session changed",
                clinic=visit.account.clinic,
                who=visit.account.name,
                about=session.key,
                address=visit.address,
            )
    except RecordError as error:
        return _page(visit, session, details, label=label, wrong=[f"{error.what} {error.remedy}".strip()])
    if details.demands:
        return _page(visit, session, details, label=label, wrong=details.demands)
    return go(f"/sessions/{session.key}/logs")


def _page(visit: Visit, session: Session, details: Details, *, label: str, wrong: list[str] | None = None) -> Response:
    rows = list(details.walks)
    for letter in "abcdefghijklmnopqrstuvwxyz":
        if len(rows) >= max(FEWEST_ROWS, len(details.walks)):
            break
        if letter not in {row.walk for row in rows}:
            rows.append(WalkEntry(letter, "none"))
    return visit.page(
        "details.html.j2",
        status=400 if wrong else 200,
        session=session,
        details=details,
        label=label,
        rows=rows,
        systems=SYSTEMS,
        wrong=wrong or [],
    )


def _one_more(details: Details) -> Details:
    used = {walk.walk for walk in details.walks}
    letters = [letter for letter in "abcdefghijklmnopqrstuvwxyz" if letter not in used]
    if len(details.walks) >= MOST_WALKS or not letters:
        return details
    return Details.from_json({**details.to_json(), "walks": [*details.to_json()["walks"], {"walk": letters[0]}]})
