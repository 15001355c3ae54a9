"""Who may sign in once the app is open to the local network: an owner makes and closes the accounts, each person keeps a passphrase."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from borewright.errors import BadInput, BorewrightError, Conflict, NotFound
from borewright.storage.accounts import ROLES, SHORTEST
from borewright.web.fields import Field, Filled, Form
from borewright.web.guard import COOKIE, KEPT
from borewright.web.jobs import Posted
from borewright.web.present import account_of, page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)

PERSON = Form("person", "A new person", "Make the account", (
    Field("name", "Name", required=True, help="It stands beside every entry that the person writes"),
    Field("role", "Role", "choice", True, "An owner may do everything; a driller all but settings, rates and people; an offsider writes in the rig log; a reader reads",
          choices=ROLES, default="driller"),
    Field("passphrase", "Passphrase to begin with", "secret", True, f"{SHORTEST} letters or more, such as four words; the person changes it after"),
))
MINE = Form("mine", "Your passphrase", "Change it", (
    Field("now", "Passphrase now", "secret", True), Field("passphrase", "New passphrase", "secret", True, f"{SHORTEST} letters or more, such as four words"),
))


def _people(request: Request, filled: Filled, status: int = 200) -> Response:
    return page(request, "people.html", status=status, filled=filled, people=request.app.state.accounts.users())


@router.get("/people")
def people(request: Request) -> Response:
    """Everyone who may sign in."""
    return _people(request, Filled(PERSON, {"role": "driller"}))


def _read(form: Form, given: Any) -> tuple[dict[str, str], dict[str, BadInput]]:
    """Return the texts as they were typed, a passphrase with its spaces."""
    values = {f.name: given.get(f.name, "") for f in form.fields}
    return values, {name: BadInput(name, "", "is missing", "a text") for name, text in values.items() if not text.strip()}


@router.post("/people")
def add_person(request: Request, given: Posted) -> Response:
    """Make an account."""
    values, wrong = _read(PERSON, given)
    if not wrong:
        try:
            request.app.state.accounts.create_user(values["name"], values["role"], values["passphrase"])
            return RedirectResponse("/people", status_code=303)
        except BadInput as error:
            wrong = {error.field: error}
        except Conflict as error:
            wrong = {"name": BadInput("name", values["name"], str(error), "another name")}
    return _people(request, Filled(PERSON, {k: v for k, v in values.items() if k != "passphrase"}, wrong), 422)


@router.post("/people/close")
def close_person(request: Request, given: Posted) -> Response:
    """Let nobody sign in by a name any more; what it wrote stays."""
    try:
        request.app.state.accounts.close_account(given.get("name", ""))
    except BorewrightError as error:
        return _people(request, Filled(PERSON, {"role": "driller"}, other=str(error).strip("'\"")), 422)
    return RedirectResponse("/people", status_code=303)


@router.get("/people/mine")
def mine(request: Request) -> Response:
    """One's own passphrase."""
    if account_of(request) is None:
        raise NotFound("Nobody is signed in: the app is open on this machine only.")
    return page(request, "passphrase.html", filled=Filled(MINE, {}))


@router.post("/people/mine")
def change_mine(request: Request, given: Posted) -> Response:
    """Change one's own passphrase; every session of the account ends and this browser gets a new one."""
    account, accounts, access = account_of(request), request.app.state.accounts, request.app.state.access
    if account is None:
        raise NotFound("Nobody is signed in: the app is open on this machine only.")
    values, wrong = _read(MINE, given)
    if not wrong:
        try:
            accounts.verify(account.name, values["now"], source=request.client.host if request.client else "")
            accounts.set_passphrase(account.name, values["passphrase"])
            answer = RedirectResponse("/", status_code=303)
            answer.set_cookie(COOKIE, accounts.open_session(account), max_age=KEPT, httponly=True, secure=access.secure, samesite="lax")
            return answer
        except BadInput as error:
            wrong = {error.field: error}
        except BorewrightError as error:
            wrong = {"now": BadInput("now", "", str(error).strip("'\""), "the passphrase that you signed in with")}
    return page(request, "passphrase.html", status=422, filled=Filled(MINE, {}, wrong))
