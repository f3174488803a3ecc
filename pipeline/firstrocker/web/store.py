"""The database: SQLite in one file beside the folders, a connection per use, every change whole or not at all."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from firstrocker.web.place import PlaceError

VERSION = 1

SCHEMA = """
create table clinic (id integer primary key, name text not null unique);
create table account (
  id integer primary key, clinic integer not null references clinic on delete cascade,
  name text not null unique collate nocase, role text not null check (role in ('clinician', 'admin')),
  password text not null, active integer not null default 1, made real not null);
create table signin (
  token text primary key, account integer not null references account on delete cascade,
  form_token text not null, began real not null, seen real not null);
create table invitation (
  token text primary key, clinic integer references clinic on delete cascade, account integer references account
  on delete cascade, name text, role text not null, until real not null);
create table failure (what text not null, at real not null);
create index failure_what on failure (what, at);
create table device (
  id integer primary key, clinic integer not null references clinic on delete cascade, label text not null,
  token text not null unique, made real not null, revoked real);
create table person (
  id integer primary key, key text not null unique, clinic integer not null references clinic,
  code text not null collate nocase, made real not null, unique (clinic, code));
create table session (
  id integer primary key, key text not null unique, person integer not null references person on delete cascade,
  label text not null collate nocase, once text unique, origin text not null default '', details text not null,
  made real not null, changed real not null, unique (person, label));
create table log (
  id integer primary key, key text not null unique, session integer not null references session on delete cascade,
  name text not null, bytes integer not null, sha256 text not null, form text not null, slot text not null default '',
  logger text not null default '', understood text not null, made real not null, unique (session, sha256));
create table run (
  id integer primary key, key text not null unique, person integer not null references person on delete cascade,
  session integer references session on delete cascade, state text not null default 'queued'
  check (state in ('queued', 'running', 'done', 'failed')), stage text not null default '',
  done integer not null default 0, steps integer not null default 0, words text not null default '',
  queued real not null, began real, ended real, tries integer not null default 0);
create unique index one_run_waits on run (person, coalesce(session, 0)) where state = 'queued';
create unique index one_run_goes on run (person) where state = 'running';
create table audit (
  id integer primary key, at real not null, clinic integer, who text not null, did text not null,
  about text not null default '', detail text not null default '', address text not null default '');
create index audit_clinic on audit (clinic, at);
"""


@dataclass(frozen=True)
class Store:
    """The database of one clinic's folder."""

    path: Path

    def prepare(self) -> None:
        """Make the tables where there are none.

        Raises:
            PlaceError: the file was made by a newer version, or is no database.
        """
        try:
            with self._connected() as connection:
                connection.execute("pragma journal_mode = wal")
                (version,) = connection.execute("pragma user_version").fetchone()
                if version == 0:
                    connection.executescript(f"begin; {SCHEMA} pragma user_version = {VERSION}; commit;")
        except sqlite3.DatabaseError as error:
            raise PlaceError(f"the database cannot be read: {error}.", where=str(self.path)) from None
        if version > VERSION:
            raise PlaceError(
                "the database was made by a newer version.", where=str(self.path), remedy="Use that version."
            )

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """A connection that sees one state of the database."""
        with self._connected() as connection:
            connection.execute("begin")
            try:
                yield connection
            finally:
                connection.execute("rollback")

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """A connection whose changes are kept together when the block ends, and forgotten when it raises."""
        with self._connected() as connection:
            connection.execute("begin immediate")
            try:
                yield connection
            except BaseException:
                connection.execute("rollback")
                raise
            connection.execute("commit")

    def shrink(self) -> None:
        """Take what was deleted out of the files."""
        with self._connected() as connection:
            connection.execute("vacuum")
            connection.execute("pragma wal_checkpoint(truncate)")

    @contextmanager
    def _connected(self) -> Iterator[sqlite3.Connection]:
        connection = sqlite3.connect(self.path, timeout=20.0, isolation_level=None)
        try:
            connection.row_factory = sqlite3.Row
            # FULL: a session that was answered as handed in is on the disk, whatever happens next.
            connection.executescript("pragma foreign_keys = on; pragma synchronous = full; pragma secure_delete = on;")
            yield connection
        finally:
            connection.close()
