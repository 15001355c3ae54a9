"""Signing in with a name and a passphrase, which is asked for once the app is open to the local network; and the page that brings a phone in."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, RedirectResponse, Response
from markupsafe import Markup

from borewright.errors import NotFound, Refused
from borewright.web.guard import COOKIE, KEPT, Pace
from borewright.web.jobs import Posted
from borewright.web.present import page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
_ALL_TRIES = Pace(a_minute=30, burst=30)  # each try costs 64 MiB for a moment, whoever asks


@router.get("/sign-in")
def ask(request: Request) -> Response:
    """Ask for a name and a passphrase."""
    return page(request, "sign_in.html", wrong="", name="")


@router.post("/sign-in")
def sign_in(request: Request, given: Posted) -> Response:
    """Check a name and a passphrase, slowly and not too often."""
    access, accounts = request.app.state.access, request.app.state.accounts
    if not access.sign_in:
        return RedirectResponse("/", status_code=303)
    name = given.get("name", "")[:80]
    if not _ALL_TRIES.take("all"):
        return page(request, "sign_in.html", status=429, wrong="Too many tries. Wait a minute.", name=name)
    try:
        account = accounts.verify(name, given.get("passphrase", "")[:1000], source=request.client.host if request.client else "")
    except Refused as error:
        return page(request, "sign_in.html", status=429 if str(error).startswith("Too many") else 403, wrong=str(error), name=name)
    answer = RedirectResponse("/", status_code=303)
    answer.set_cookie(COOKIE, accounts.open_session(account), max_age=KEPT, httponly=True, secure=access.secure, samesite="lax")
    return answer


@router.post("/sign-out")
def sign_out(request: Request) -> Response:
    """End this browser's session."""
    request.app.state.accounts.close_session(request.cookies.get(COOKIE, ""))
    answer = RedirectResponse("/sign-in", status_code=303)
    answer.delete_cookie(COOKIE)
    return answer


@router.get("/phone")
def phone(request: Request) -> Response:
    """How to bring the rig page onto a phone: the address as a square to scan, and the certificate to trust."""
    access = request.app.state.access
    address = access.addresses[0] + "/phone" if access.addresses else ""
    return page(request, "phone.html", addresses=access.addresses, square=_square(address), fingerprint=access.fingerprint)


def _square(text: str) -> Markup:
    import segno

    return Markup(segno.make(text, error="m").svg_inline(scale=6, border=3, dark="#000", light="#fff")) if text else Markup("")


@router.get("/phone/certificate.crt")
def certificate(request: Request) -> Response:
    """The certificate that makes a phone trust this machine, and nothing else."""
    path = request.app.state.access.authority
    if path is None or not path.is_file():
        raise NotFound("There is no certificate: the app is open on this machine only.")
    return FileResponse(path, media_type="application/x-x509-ca-cert", filename="borewright-rig.crt")
