"""What the command line can do for the clinic's page: serve it, make an account, back everything up."""

from __future__ import annotations

import signal
import sys
from getpass import getpass
from pathlib import Path
from typing import TYPE_CHECKING

from firstrocker.web import accounts, invitations
from firstrocker.web.accounts import AccountError, Role
from firstrocker.web.place import Place
from firstrocker.web.store import Store

if TYPE_CHECKING:
    from firstrocker.web.kit import Services
    from firstrocker.web.options import Options


def serve(data: Path, options: Options, *, cores: int, at_once: int) -> None:
    """Serve until told to end.

    Raises:
        PlaceError: the folder cannot be used.
    """
    from firstrocker.web.app import make_services

    place = Place(data.absolute())
    with place.sole():
        _serve(make_services(place, options, cores=cores, at_once=at_once), data)


def _serve(services: Services, data: Path) -> None:
    import uvicorn

    from firstrocker.web.app import make_app

    options = services.options
    with services.store.writing() as connection:
        first = invitations.first_invitation(connection)
    told = [f"The clinic's page: {options.address}   (stop with Ctrl+C; everything is kept in {data})"]
    if first is not None:
        told.append(f"Make the first account here, within two days: {options.address}/welcome/{first}")
    print("\n".join(told), flush=True)
    if signal.getsignal(signal.SIGHUP) is not signal.SIG_IGN:  # a terminal that is closed; not under nohup
        signal.signal(signal.SIGHUP, lambda *_: signal.raise_signal(signal.SIGTERM))
    uvicorn.run(
        make_app(services),
        host=options.host,
        port=options.port,
        log_level="warning",
        access_log=False,
        server_header=False,
        date_header=True,
        proxy_headers=options.secure,
        forwarded_allow_ips="127.0.0.1,::1",
        limit_concurrency=200,
        timeout_keep_alive=30,
        timeout_graceful_shutdown=10,
        h11_max_incomplete_event_size=32 * 1024,
        http="h11",
        ws="none",
    )


def add_account(data: Path, *, name: str, clinic: str, role: Role) -> None:
    """Make an account; the password is asked for, or read from standard input where that is no keyboard.

    Raises:
        AccountError: the two passwords differ, or the name cannot be.
        PasswordError: the password is soon guessed.
    """
    place = Place(data.absolute())
    place.prepare_root()
    store = Store(place.database)
    store.prepare()
    if sys.stdin.isatty():
        password = getpass("Password: ")
        if getpass("The same again: ") != password:
            raise AccountError("The two passwords are not the same.")
    else:
        password = sys.stdin.readline().rstrip("\n")
    with store.writing() as connection:
        accounts.add_account(connection, clinic=clinic, name=name, role=role, password=password)
