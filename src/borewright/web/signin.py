"""Signing in with the firm's passphrase, which is asked for once the app is open to the local network."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, RedirectResponse, Response
from markupsafe import Markup

from borewright.errors import NotFound
from borewright.web.guard import COOKIE, KEPT, Pace
from borewright.web.jobs import Posted
from borewright.web.present import page

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
_TRIES = Pace(a_minute=5, burst=5)
_ALL_TRIES = Pace(a_minute=30, burst=30)


@router.get("/sign-in")
def ask(request: Request) -> Response:
    """Ask for the passphrase."""
    return page(request, "sign_in.html", wrong="")


@router.post("/sign-in")
def sign_in(request: Request, given: Posted) -> Response:
    """Check the passphrase, slowly and not too often."""
    access = request.app.state.access
    if not access.passphrase_hash:
        return RedirectResponse("/", status_code=303)
    who = request.client.host if request.client else "?"
    if not (_TRIES.take(who) and _ALL_TRIES.take("all")):
        return page(request, "sign_in.html", status=429, wrong="Too many tries. Wait a minute.")
    if not _matches(access.passphrase_hash, given.get("passphrase", "")):
        return page(request, "sign_in.html", status=403, wrong="That is not the passphrase.")
    answer = RedirectResponse("/", status_code=303)
    answer.set_cookie(COOKIE, request.app.state.sessions.issue(), max_age=KEPT, httponly=True, secure=access.secure, samesite="lax")
    return answer


def _matches(kept: str, typed: str) -> bool:
    from argon2 import PasswordHasher
    from argon2.exceptions import Argon2Error, InvalidHashError

    try:
        return PasswordHasher().verify(kept, typed)
    except (Argon2Error, InvalidHashError):
        return False


@router.post("/sign-out")
def sign_out() -> Response:
    """Forget this browser."""
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
