"""Accounts, sign-in and what ends it. Numbers in brackets: OWASP ASVS 4.0.3, from memory."""

from __future__ import annotations

import time
from pathlib import Path

import httpx
import pytest

from firstrocker.web.secretwords import PasswordError, check_password, hashed, matches
from web.served import PASSWORD, Server, Visitor, firstrocker


def cookie_of(answer: httpx.Response) -> str:
    return next(one.headers["set-cookie"] for one in [*answer.history, answer] if "set-cookie" in one.headers)


def test_the_cookie_is_out_of_reach_of_scripts_and_of_other_sites(server: Server) -> None:
    """[3.4.2, 3.4.3]."""
    server.account("cookie")
    visitor = Visitor(server.address)
    cookie = cookie_of(visitor.sign_in("cookie"))
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert "Path=/" in cookie
    assert "Max-Age" not in cookie
    assert "expires" not in cookie.lower()


def test_behind_a_proxy_the_cookie_goes_over_https_alone(tmp_path: Path) -> None:
    """[3.4.1, 3.4.4, 9.1.1, 14.4.5]."""
    served = Server(tmp_path / "clinic", more=("--origin", "https://clinic.example"))
    served.host = "clinic.example"
    served.start()
    try:
        client = httpx.Client(base_url=served.address, headers={"host": "clinic.example"}, timeout=30)
        with client:
            link = served.first_link
            fields = {"clinic": "C", "name": "ada", "password": PASSWORD, "again": PASSWORD}
            made = client.post(link, data=fields, headers={"origin": "https://clinic.example"})
            assert made.status_code == 303
            assert made.headers["set-cookie"].startswith("__Host-firstrocker=")
            assert "Secure" in made.headers["set-cookie"]
            assert "max-age" in made.headers["strict-transport-security"]
            assert client.post(link, data=fields, headers={"origin": served.address}).status_code == 403
    finally:
        served.stop()


def test_every_sign_in_has_a_token_of_its_own_and_a_given_one_is_not_taken(server: Server) -> None:
    """[3.2.1]."""
    visitor = server.account("fixed")
    first = visitor.client.cookies["firstrocker"]
    visitor.client.cookies.clear()
    visitor.client.cookies.set("firstrocker", "chosen-by-somebody-else", domain="127.0.0.1")
    visitor.sign_in("fixed")
    second = [
        c.value for c in visitor.client.cookies.jar if c.name == "firstrocker" and c.value != "chosen-by-somebody-else"
    ]
    assert second
    assert first not in second


def test_signing_out_makes_the_token_worthless(server: Server) -> None:
    """[3.3.1]."""
    visitor = server.account("leaving")
    token = visitor.client.cookies["firstrocker"]
    visitor.get("/")
    visitor.post("/signout")
    again = Visitor(server.address)
    again.client.cookies.set("firstrocker", token, domain="127.0.0.1")
    assert again.get("/").url.path == "/signin"


@pytest.mark.parametrize(("column", "seconds"), [("seen", 31 * 60), ("began", 12 * 3600 + 60)])
def test_a_sign_in_ends_by_itself(server: Server, column: str, seconds: float) -> None:
    """[3.3.2]."""
    visitor = server.account(f"tired{column}")
    with server.store.writing() as connection:
        connection.execute(
            f"update signin set {column} = ? where account = (select id from account where name = ?)",  # noqa: S608
            (time.time() - seconds, f"tired{column}"),
        )
    assert visitor.get("/").url.path == "/signin"


def test_a_changed_password_ends_every_other_sign_in(server: Server) -> None:
    """[2.1.5, 2.1.6, 3.3.3]."""
    here = server.account("mover")
    there = Visitor(server.address)
    there.sign_in("mover")
    assert there.path == "/"
    here.get("/password")
    wrong = here.post("/password", old="not it at all", password="another long one", again="another long one")  # noqa: S106
    assert wrong.status_code == 400
    here.post("/password", old=PASSWORD, password="another long one", again="another long one")  # noqa: S106
    assert here.path == "/"
    assert here.get("/").url.path == "/"
    assert there.get("/").url.path == "/signin"
    assert there.sign_in("mover").status_code == 401


def test_guessing_is_slowed_down(server: Server) -> None:
    """[2.2.1]: per name, whatever password comes then; other names go on."""
    server.account("guessed")
    guesser = Visitor(server.address)
    statuses = [guesser.sign_in("guessed", f"wrong guess number {n}").status_code for n in range(6)]
    assert statuses == [401] * 5 + [429]
    assert guesser.sign_in("guessed").status_code == 429
    server.account("guessed2")


def test_a_wrong_name_and_a_wrong_password_are_answered_alike(server: Server) -> None:
    """[2.2.1, common practice]: the answer does not tell whether there is such an account."""
    server.account("known")
    visitor = Visitor(server.address)
    visitor.sign_in("known", "not the password")
    known = visitor.page.replace("known", "")
    visitor.sign_in("nobody", "not the password")
    assert visitor.page.replace("nobody", "") == known


@pytest.mark.parametrize(
    "password", ["short", "password12345", "aaaaaaaaaaaaaaaa", "firstrockerfirstrocker", "ada-ada-ada-ada", "x" * 129]
)
def test_passwords_that_are_soon_guessed_are_refused(password: str) -> None:
    """[2.1.1, 2.1.2, 2.1.7]."""
    with pytest.raises(PasswordError):
        check_password(password, name="ada")


@pytest.mark.parametrize("password", ["four walks before noon", "Zwölf Schritte später", "步行四次然后回家吃饭去吧"])
def test_any_sign_may_be_in_a_password(password: str) -> None:
    """[2.1.4, 2.1.9]."""
    check_password(password, name="ada")
    assert matches(hashed(password), password)
    assert not matches(hashed(password), password + " ")


def test_passwords_and_tokens_are_kept_as_hashes(server: Server) -> None:
    """[2.4.1, 3.2.2, 3.2.3]."""
    visitor = server.account("kept")
    with server.store.reading() as connection:
        (kept,) = connection.execute("select password from account where name = 'kept'").fetchone()
        assert (
            connection.execute(
                "select 1 from signin where token = ?", (visitor.client.cookies["firstrocker"],)
            ).fetchone()
            is None
        )
    assert kept.startswith("$argon2id$")


def test_an_account_is_made_on_the_command_line_and_nobody_has_a_default_one(tmp_path: Path) -> None:
    """[2.5.4]."""
    data = tmp_path / "clinic"
    made = firstrocker(
        "account", "add", "ben", "--clinic", "C", "--role", "admin", "--data", str(data), told=f"{PASSWORD}\n"
    )
    assert made.returncode == 0
    weak = firstrocker("account", "add", "eve", "--clinic", "C", "--data", str(data), told="clinic\n")
    assert weak.returncode == 2
    assert "at least 12 signs" in weak.stderr
    again = firstrocker("account", "add", "BEN", "--clinic", "C", "--data", str(data), told=f"{PASSWORD}\n")
    assert "There is an account of that name." in again.stderr
    assert data.stat().st_mode & 0o077 == 0
    assert (data / "clinic.sqlite").stat().st_mode & 0o077 == 0
