"""The clinic's people, one person's sessions, and taking either away."""

from __future__ import annotations

import shutil
import time
from pathlib import Path

from starlette.responses import Response

from firstrocker.errors import FirstrockerError
from firstrocker.web import audit, jobs, people
from firstrocker.web.kit import RefusedError, Visit, go
from firstrocker.web.place import new_key
from firstrocker.web.results import state_of


def people_page(visit: Visit) -> Response:
    """Everyone whom the clinic measures."""
    return _people_page(visit)


def _people_page(visit: Visit, *, code: str = "", wrong: str = "") -> Response:
    with visit.store.reading() as connection:
        found = people.people_of(connection, visit.account.clinic)
    return visit.page("people.html.j2", status=400 if wrong else 200, people=found, code=code, wrong=wrong)


def add_person(visit: Visit) -> Response:
    """A new person, by code."""
    try:
        with visit.store.writing() as connection:
            person = people.add_person(connection, visit.account.clinic, visit.form.get("code", ""))
    except FirstrockerError as error:
        return _people_page(visit, code=visit.form.get("code", ""), wrong=f"{error.what} {error.remedy}".strip())
    visit.record("person added", about=person.key)
    return go(f"/people/{person.key}")


def person_page(visit: Visit) -> Response:
    """One person's sessions."""
    return _person_page(visit)


def _person_page(visit: Visit, *, label: str = "", wrong: str = "") -> Response:
    with visit.store.reading() as connection:
        person = people.find_person(connection, visit.account.clinic, visit.key())
        sessions = [
            (session, state_of(connection, visit.services.place, session))
            for session in people.sessions_of(connection, person)
        ]
        label = label or people.free_label(connection, person, time.strftime("%Y%m%d"))
        course = jobs.last_run(connection, person.id, None)
    if not wrong:
        visit.record("saw person", about=person.key)
    place = visit.services.place.person(person.key)
    return visit.page(
        "person.html.j2",
        status=400 if wrong else 200,
        person=person,
        sessions=sessions,
        label=label,
        wrong=wrong,
        once=new_key(),
        course=course,
        has_course=bool(course_pages(place.results, person.code)),
    )


def course_pages(results: Path, code: str) -> list[Path]:
    """Pages that set a person's sessions side by side, the person's own first."""
    own = sorted((results / f"sub-{code}").glob("*.html"))
    return own or [path for path in (results / "cohort" / "report.html",) if path.is_file()]


def add_session(visit: Visit) -> Response:
    """A new session; the same form sent twice makes one."""
    label = visit.form.get("label", "").strip()
    try:
        with visit.store.writing() as connection:
            person = people.find_person(connection, visit.account.clinic, visit.key())
            once = f"page:{visit.account.id}:{visit.form.get('once', '')}"
            key = people.add_session(connection, person, label=label, once=once)
            audit.record(
                connection,
                "session added",
                clinic=visit.account.clinic,
                who=visit.account.name,
                about=key,
                address=visit.address,
            )
    except people.RecordError as error:
        return _person_page(visit, label=label, wrong=f"{error.what} {error.remedy}".strip())
    return go(f"/sessions/{key}/details")


def delete_person_page(visit: Visit) -> Response:
    """Ask before a person is taken away."""
    with visit.store.reading() as connection:
        person = people.find_person(connection, visit.account.clinic, visit.key())
        number = len(people.sessions_of(connection, person))
    return visit.page(
        "delete.html.j2",
        what=f"{person.code} and everything of {number} sessions",
        code=person.code,
        action=f"/people/{person.key}/delete",
        back=f"/people/{person.key}",
        title=f"Delete {person.code}",
    )


def delete_person(visit: Visit) -> Response:
    """Take a person away with everything handed in and everything made of it."""
    with visit.store.writing() as connection:
        person = people.find_person(connection, visit.account.clinic, visit.key())
        _confirmed(visit, person.code)
        # Without its rows nothing can start a run any more; the one that goes is ended below.
        connection.execute("delete from person where id = ?", (person.id,))
        audit.record(
            connection,
            "person deleted",
            clinic=visit.account.clinic,
            who=visit.account.name,
            about=person.key,
            address=visit.address,
        )
    visit.services.worker.stop_person(person.id)
    shutil.rmtree(visit.services.place.person(person.key).root, ignore_errors=True)
    visit.store.shrink()
    return go("/")


def delete_session_page(visit: Visit) -> Response:
    """Ask before a session is taken away."""
    with visit.store.reading() as connection:
        session = people.find_session(connection, visit.account.clinic, visit.key())
    name = f"session {session.label} of {session.person.code}"
    return visit.page(
        "delete.html.j2",
        what=name,
        code=session.label,
        action=f"/sessions/{session.key}/delete",
        back=f"/sessions/{session.key}",
        title=f"Delete {name}",
    )


def delete_session(visit: Visit) -> Response:
    """Take a session away with its logs and results; the course over the others is made anew."""
    services = visit.services
    with visit.store.writing() as connection:
        session = people.find_session(connection, visit.account.clinic, visit.key())
        _confirmed(visit, session.label)
        connection.execute("delete from session where id = ?", (session.id,))
        jobs.enqueue(connection, session.person, None)
        audit.record(
            connection,
            "session deleted",
            clinic=visit.account.clinic,
            who=visit.account.name,
            about=session.key,
            address=visit.address,
        )
        labels = {one.label for one in people.sessions_of(connection, session.person)}
    services.worker.stop_person(session.person.id)
    place = services.place.person(session.person.key)
    shutil.rmtree(place.uploads(session.key), ignore_errors=True)
    from firstrocker.web.filing import clear_away

    clear_away(place, labels)
    # What stood over all sessions holds this one's numbers still.
    for folder in (place.results / "cohort", place.run / ".snakemake"):
        shutil.rmtree(folder, ignore_errors=True)
    for page in (place.results / f"sub-{session.person.code}").glob("*.*"):
        page.unlink(missing_ok=True)
    visit.store.shrink()
    services.worker.wake()
    return go(f"/people/{session.person.key}")


def _confirmed(visit: Visit, word: str) -> None:
    if visit.form.get("sure", "").strip().lower() != word.lower():
        raise RefusedError("Nothing was deleted.", remedy=f"Write {word} into the field to delete.")
