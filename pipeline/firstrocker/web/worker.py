"""Takes runs from the queue, one after the other, and carries them out."""

from __future__ import annotations

import logging
import sqlite3
import threading
from dataclasses import dataclass, field

from firstrocker.errors import FirstrockerError
from firstrocker.web import jobs
from firstrocker.web.filing import clear_away, file_session
from firstrocker.web.jobs import Run
from firstrocker.web.people import Person, Session, find_session, logs_of, sessions_of
from firstrocker.web.place import PersonPlace, Place
from firstrocker.web.store import Store
from firstrocker.web.words import STAGES
from firstrocker.web.workflow_run import RunError, Stopped, WorkflowRun, end_orphan

_LOG = logging.getLogger("firstrocker.web")


@dataclass
class Worker:
    """Runs at most ``at_once`` workflows side by side, each on ``cores`` cores."""

    store: Store
    place: Place
    cores: int = 2
    at_once: int = 1
    _threads: list[threading.Thread] = field(default_factory=list)
    _wake: threading.Condition = field(default_factory=threading.Condition)
    _going: dict[int, WorkflowRun] = field(default_factory=dict)
    _ending: bool = False

    def start(self) -> None:
        """End what an earlier server left running, put it back into the queue, and begin."""
        with self.store.reading() as connection:
            left = jobs.going(connection)
            keys = dict(connection.execute("select id, key from person").fetchall())
        for run in left:
            end_orphan(self.place.person(keys[run.person]))
            with self.store.writing() as connection:
                jobs.give_back(connection, run)
        for number in range(self.at_once):
            thread = threading.Thread(target=self._work, name=f"run-{number}", daemon=True)
            thread.start()
            self._threads.append(thread)

    def wake(self) -> None:
        """Say that there is something in the queue."""
        with self._wake:
            self._wake.notify_all()

    def stop_person(self, person: int) -> None:
        """End the run of a person, if one goes, and wait for its end; the caller has emptied the queue."""
        with self._wake:
            going = self._going.get(person)
            if going is not None:
                going.stop()
            self._wake.wait_for(lambda: person not in self._going, timeout=60)

    def close(self) -> None:
        """End every run, put it back into the queue, and end."""
        with self._wake:
            self._ending = True
            for going in self._going.values():
                going.stop()
            self._wake.notify_all()
        for thread in self._threads:
            thread.join(timeout=30)

    def _work(self) -> None:
        while not self._ending:
            try:
                with self.store.writing() as connection:
                    run = jobs.claim(connection)
                    person, session = self._whose(connection, run) if run else (None, None)
                if run is not None and person is not None:
                    self._carry_out(run, person, session)
                    continue
            except Exception:
                _LOG.exception("the queue stumbled")
            with self._wake:
                if not self._ending:
                    self._wake.wait(timeout=2.0)

    @staticmethod
    def _whose(connection: sqlite3.Connection, run: Run) -> tuple[Person, Session | None]:
        row = connection.execute("select id, key, code, clinic from person where id = ?", (run.person,)).fetchone()
        person = Person(row["id"], row["key"], row["code"])
        if run.session is None:
            return person, None
        (key,) = connection.execute("select key from session where id = ?", (run.session,)).fetchone()
        return person, find_session(connection, row["clinic"], key)

    def _carry_out(self, run: Run, person: Person, session: Session | None) -> None:
        place = self.place.person(person.key)
        going = WorkflowRun(self.place, place, cores=self.cores)
        with self._wake:
            self._going[person.id] = going
        failed, cut_short = "", False
        now = [run]
        try:
            if self._ending:
                raise Stopped
            if self._prepare(place, person, session):
                going(lambda stage, done, steps: self._tell(now, person, stage, done, steps))
        except Stopped:
            cut_short = True
        except RunError as error:
            failed = error.what
        except FirstrockerError as mistake:
            failed = str(mistake)
        except Exception as bug:
            _LOG.exception("a run failed")
            failed = f"{type(bug).__name__}: {bug}"
        finally:
            with self.store.writing() as connection:
                if cut_short:
                    jobs.give_back(connection, now[0])
                else:
                    jobs.finish(connection, now[0], failed=failed)
            with self._wake:
                del self._going[person.id]
                self._wake.notify_all()

    def _prepare(self, place: PersonPlace, person: Person, session: Session | None) -> bool:
        """Bring the person's study in step with what was handed in; whether there is any session in it."""
        with self.store.reading() as connection:
            sessions = sessions_of(connection, person)
            logs = [] if session is None else logs_of(connection, session)
        clear_away(place, {one.label for one in sessions})
        if session is not None:
            file_session(place, session, logs)
        return any(place.study.glob("sub-*/ses-*"))

    def _tell(self, now: list[Run], person: Person, stage: str, done: int, steps: int) -> None:
        """Note how far the run is; what comes after the sessions' own stages is no longer the session's run."""
        run = now[0]
        with self.store.writing() as connection:
            if run.session is not None and stage not in STAGES:
                jobs.finish(connection, run)
                follows = jobs.follow(connection, person)
                if follows is not None:
                    now[0] = run = follows
            jobs.progress(connection, run, stage=stage, done=done, steps=steps)
