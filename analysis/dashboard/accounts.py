"""Who is looking, where a server is shared: from the log-in alone, asked anew at every run.

Without a table ``[auth]`` in Streamlit's secrets there are no accounts and nobody is asked. What the address, the
session or a header says about a person is never read; a fault in the secrets shuts the door.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import streamlit as st
from streamlit import config, runtime
from streamlit.errors import StreamlitAuthError
from streamlit.runtime.scriptrunner import get_script_run_ctx

from ..entry.drafts.file import set_owner_of_folder, shared_folder
from .say import say

COORDINATOR = "coordinator"
_PEOPLE = "people"  # the table in the secrets, and the folder of all own folders
_NO_SECRETS = ("received a secrets file that cannot be read, expected TOML, put it right or take it away and load the "
               "page again")
_HEADERS = ("received the setting server.trustedUserHeaders together with accounts, expected the log-in alone to say "
            "who is looking, take the setting out")


@dataclass(frozen=True)
class Person:
    """Somebody who is logged in and may work here."""

    key: str  # names the person's folder: 16 characters 0-9 a-f, the same at every log-in
    name: str
    member: str | None  # short name of the member that the person works for; None for the coordinator
    coordinator: bool


def accounts_on() -> bool:
    """Whether people log in here: a table ``[auth]`` in the secrets. ValueError where the secrets cannot be read."""
    if get_script_run_ctx(suppress_warning=True) is None and not runtime.exists():
        return False
    try:
        loaded = st.secrets.load_if_toml_exists()
    except (OSError, ValueError) as error:
        raise ValueError(_NO_SECRETS) from error
    if loaded:
        return "auth" in st.secrets
    if any(map(os.path.lexists, config.get_option("secrets.files"))):
        raise ValueError(_NO_SECRETS)
    return False


def person() -> Person | None:
    """Tell who is looking, from this run's log-in; None for nobody, and for somebody who is not listed."""
    if not accounts_on():
        return None
    ours = _ours()
    return person_of(_claims(), ours.get(_PEOPLE), ours.get("trust_unverified") is True)


def person_of(claims: Mapping[str, Any], people: object, trust_unverified: bool = False) -> Person | None:
    """Find the one listed person that a log-in belongs to; None where it does not lead to one."""
    issuer, subject, email = claims.get("iss"), claims.get("sub"), verified_email(claims, trust_unverified)
    if claims.get("is_logged_in") is not True or not (_said(issuer) and _said(subject) and email):
        return None
    place = _place(email, people)
    if place is None:
        return None
    name = claims.get("name")
    coordinator = place.casefold() == COORDINATOR
    return Person(key_of(issuer, subject), name if _said(name) else email, None if coordinator else place, coordinator)


def verified_email(claims: Mapping[str, Any], trust_unverified: bool = False) -> str | None:
    """Find the e-mail that a log-in stands for; None where the provider does not vouch for one."""
    # With `trust_unverified` one counts about which nothing is said; one that is said not to be verified never does.
    verified = claims.get("email_verified")
    counts = verified is True or (verified is None and trust_unverified)
    return claims["email"].strip() if counts and _said(claims.get("email")) else None


def key_of(issuer: str, subject: str) -> str:
    """Make the name of a person's folder: 16 characters 0-9 a-f."""
    # Issuer and subject together are one person's for ever (OpenID Connect Core 1.0, section 5.7); an e-mail may be
    # given to somebody else.
    return hashlib.sha256(f"{issuer}\n{subject}".encode()).hexdigest()[:16]


def own_folder() -> Path | None:
    """Folder of who is looking, also in a callback; None without accounts, PermissionError for nobody listed."""
    if not accounts_on():
        return None
    who = person()
    if who is None:
        raise PermissionError("received no login, expected one, log in")
    return shared_folder() / _PEOPLE / who.key


def store_address() -> str:
    """The store that the secrets name for everybody, ``store`` under ``[evenfall]``; empty where they name none."""
    try:
        address = _ours().get("store") if st.secrets.load_if_toml_exists() else None
    except (OSError, ValueError) as error:
        raise ValueError(_NO_SECRETS) from error
    return address.strip() if _said(address) else ""


def redirect_name() -> str:
    """Name of the server in the address that people open, as the secrets have it; empty where there is none."""
    try:
        table = st.secrets.get("auth") if accounts_on() else None
        address = table.get("redirect_uri") if isinstance(table, Mapping) else None
        return (urlsplit(address).hostname or "") if _said(address) else ""
    except ValueError:
        return ""


set_owner_of_folder(own_folder)


def gate() -> None:
    """Let a page begin, or end it here: where there are accounts, only for somebody who is logged in and listed."""
    try:
        if not accounts_on():
            return
        who, claims = person(), _claims()
    except ValueError as error:
        say(str(error), "error")
        st.stop()
    if who is not None:
        _welcome(f"{who.name}, {who.member or COORDINATOR}")
        return
    st.space("small")  # the row of pages, which keeps others off the edge, is not there
    st.title("Evenfall")
    if claims.get("is_logged_in") is True:
        st.text(_refusal(claims))
        _log_out("secondary")
    else:
        _ask_in()
    st.stop()


def _said(text: object) -> bool:
    return isinstance(text, str) and bool(text.strip())


def _ours() -> Mapping[str, Any]:
    table = st.secrets.get("evenfall")
    return table if isinstance(table, Mapping) else {}


def _claims() -> Mapping[str, Any]:
    if get_script_run_ctx(suppress_warning=True) is None:
        return {}
    if config.get_option("server.trustedUserHeaders"):
        raise ValueError(_HEADERS)
    return st.user.to_dict()


def _folded(email: str) -> tuple[bool, str]:
    # Folding makes plain letters of some others (the Kelvin sign a k): those must not pass for the plain ones.
    return email.isascii(), email.strip().casefold()


def _place(email: str, people: object) -> str | None:
    if not isinstance(people, Mapping):
        return None
    found = {place.strip() for listed, place in people.items() if _said(place) and _folded(listed) == _folded(email)}
    return found.pop() if len(found) == 1 else None  # listed twice in two ways: nobody knows which is meant


def _welcome(says: str) -> None:
    with st.container(key="who", horizontal=True, horizontal_alignment="distribute", vertical_alignment="center"):
        st.text(says, width="content")
        _log_out("tertiary")


def _log_out(kind: str) -> None:
    if st.button("Log out", key="log_out", type=kind):
        st.logout()
        st.stop()


def _refusal(claims: Mapping[str, Any]) -> str:
    email = claims.get("email")
    if not _said(email):
        return "The log-in gave no e-mail, so nothing can be opened with it: ask your cooperative's coordinator."
    if verified_email(claims, _ours().get("trust_unverified") is True) is None:
        return (f"Where you log in, {email} is not said to be verified, so nothing can be opened with it: verify it "
                "there, or ask your cooperative's coordinator.")
    return (f"You are logged in as {email}, which is not on the list of people here: ask your cooperative's "
            "coordinator to add it.")


def _ask_in() -> None:
    st.text("Several people keep their tests here: log in to see yours.")
    if not st.button("Log in", key="log_in", type="primary"):
        return
    missing = [name for name in ("Authlib", "httpx") if find_spec(name.lower()) is None]
    if missing:
        say(f"received no {' and no '.join(missing)}, expected both Authlib and httpx for accounts, install "
            "evenfall[accounts]", "error")
        return
    try:
        st.login()
    except StreamlitAuthError as error:
        say(str(error), "error")
