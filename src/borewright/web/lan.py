"""Opening the app to the local network: its first owner, and a certificate that phones can trust.

A service worker runs only over HTTPS that the browser trusts, so a bare self-signed certificate would leave a phone with no offline
page. An authority is made once on this machine, held to addresses of local networks by name constraints (so that trusting it
opens nothing else), and signs a certificate for the addresses that this machine has today.
"""

from __future__ import annotations

import contextlib
import ipaddress
import os
import socket
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from borewright.errors import BadInput, Refused
from borewright.storage.accounts import SHORTEST
from borewright.web.guard import LOOPBACK, Access

if TYPE_CHECKING:
    from borewright.storage import Accounts

__all__ = ["first_owner", "lan_access", "local_addresses", "make_authority", "make_certificate"]

_NETWORKS = ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8", "100.64.0.0/10")
_LIFE = timedelta(days=397)  # browsers refuse a longer life for the certificate that a server shows


def local_addresses() -> list[str]:
    """Return this machine's own addresses on local networks, the one that others reach it by first."""
    found: list[str] = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # a documentation address: nothing is sent, the system only picks the way out
            found.append(probe.getsockname()[0])
        except OSError:
            pass
    with contextlib.suppress(OSError):
        found += [info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    return [a for a in dict.fromkeys(found) if not ipaddress.ip_address(a).is_loopback]


def _private(path: Path, data: bytes) -> None:
    """Write a file that only its owner can read."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.unlink(missing_ok=True)
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
        out.write(data)


def _pem(key) -> bytes:
    from cryptography.hazmat.primitives import serialization as s

    return key.private_bytes(s.Encoding.PEM, s.PrivateFormat.PKCS8, s.NoEncryption())


def _networks_for(addresses: list[str]) -> list[ipaddress.IPv4Network]:
    """Return the networks that the authority may speak for: the local ones, and an address outside them alone by itself."""
    local = [ipaddress.IPv4Network(n) for n in _NETWORKS]
    odd = [ipaddress.IPv4Address(a) for a in addresses if not any(ipaddress.IPv4Address(a) in n for n in local)]
    return local + [ipaddress.IPv4Network(a) for a in odd]


def _permits(certificate: Path, networks: list[ipaddress.IPv4Network]) -> bool:
    from cryptography import x509

    limits = x509.load_pem_x509_certificate(certificate.read_bytes()).extensions.get_extension_for_class(x509.NameConstraints).value
    return set(networks) <= {n.value for n in limits.permitted_subtrees or () if isinstance(n, x509.IPAddress)}


def make_authority(folder: Path, addresses: list[str]) -> tuple[Path, Path]:
    """Return (certificate, key) of this machine's own authority, made where there is none that may speak for the addresses."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import NameOID

    certificate, key_file = folder / "authority.crt", folder / "authority.key"
    networks = _networks_for(addresses)
    if certificate.is_file() and key_file.is_file() and _permits(certificate, networks):
        return certificate, key_file
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Borewright on {socket.gethostname()}"[:64])])
    permitted = [x509.IPAddress(n) for n in networks] + [x509.DNSName(n) for n in ("local", "localhost", _host())]
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder().subject_name(name).issuer_name(name).public_key(key.public_key()).serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1)).not_valid_after(now + timedelta(days=3650))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(x509.NameConstraints(permitted, None), critical=True)
        .add_extension(_usage(sign=True), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    _private(key_file, _pem(key))
    certificate.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    return certificate, key_file


def _usage(*, sign: bool):
    from cryptography import x509

    return x509.KeyUsage(
        digital_signature=not sign, content_commitment=False, key_encipherment=False, data_encipherment=False, key_agreement=False,
        key_cert_sign=sign, crl_sign=sign, encipher_only=False, decipher_only=False,
    )


def _host() -> str:
    return socket.gethostname().partition(".")[0].lower()


def make_certificate(folder: Path, addresses: list[str]) -> tuple[Path, Path, str]:
    """Return (certificate chain, key, SHA-256 fingerprint of the authority) for the addresses given."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    authority_file, authority_key_file = make_authority(folder, addresses)
    authority = x509.load_pem_x509_certificate(authority_file.read_bytes())
    authority_key = serialization.load_pem_private_key(authority_key_file.read_bytes(), None)
    key = ec.generate_private_key(ec.SECP256R1())
    names = [x509.DNSName(n) for n in dict.fromkeys(("localhost", _host(), f"{_host()}.local"))]
    names += [x509.IPAddress(ipaddress.ip_address(a)) for a in dict.fromkeys([*addresses, "127.0.0.1"])]
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder().subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, _host()[:64])])).issuer_name(authority.subject)
        .public_key(key.public_key()).serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1)).not_valid_after(now + _LIFE)
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(sign=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(authority_key.public_key()), critical=False)
        .sign(authority_key, hashes.SHA256())
    )
    chain, key_file = folder / "server.crt", folder / "server.key"
    _private(key_file, _pem(key))
    chain.write_bytes(made.public_bytes(serialization.Encoding.PEM) + authority_file.read_bytes())
    print_ = authority.fingerprint(hashes.SHA256()).hex().upper()
    return chain, key_file, ":".join(print_[i:i + 2] for i in range(0, len(print_), 2))


def first_owner(folder: Path, accounts: Accounts, name: str, *, passphrase_file: str | None = None) -> str:
    """See that there is an owner who can sign in, and return what to tell whoever started the app.

    The passphrase of an earlier version becomes an owner's; else one is asked for, or read from a file. A file given later sets the
    owner's passphrase anew: whoever holds this machine holds its book.
    """
    import sys

    kept = folder / "passphrase.argon2"
    owners = [a for a in accounts.users() if a.role == "owner"]
    if not owners and kept.is_file():
        owners = [accounts.adopt_owner(name, kept.read_text(encoding="ascii").strip())]
        kept.unlink()
        if not passphrase_file:
            return f"Sign in as {owners[0].name} with the passphrase that you have."
    if passphrase_file:
        try:
            text = Path(passphrase_file).read_text(encoding="utf-8").strip()
        except OSError as error:
            raise BadInput("passphrase-file", passphrase_file, f"cannot be read ({error.strerror})", "a file with the passphrase in it") from None
    elif owners:
        return f"Sign in as {', '.join(a.name for a in owners)}, or with the name that an owner gave you."
    elif sys.stdin.isatty():
        from getpass import getpass

        text = getpass(f"Choose a passphrase for {name} ({SHORTEST} letters or more): ").strip()
    else:
        raise Refused("--lan needs a passphrase: run it once in a terminal, or give --passphrase-file FILE")
    if not owners:
        return f"Sign in as {accounts.create_user(name, 'owner', text).name} with the passphrase that you chose."
    mine = next((a for a in owners if a.name.casefold() == name.casefold()), owners[0])
    if not accounts.fits(mine.name, text):
        accounts.set_passphrase(mine.name, text)
    return f"Sign in as {mine.name} with the passphrase of the file."


def lan_access(folder: Path, port: int, *, certificate: str | None = None, key: str | None = None) -> tuple[Access, dict[str, str]]:
    """Return who may reach the app on the local network, and the files of its HTTPS as uvicorn names them."""
    safe = folder / "lan"
    safe.mkdir(parents=True, exist_ok=True)
    addresses = local_addresses()
    if not addresses:
        raise Refused("This machine has no address on a local network. Join the phone's network or its hotspot first.")
    if certificate and key:
        for path in (certificate, key):
            if not Path(path).is_file():
                raise BadInput("certificate", path, "is not there", "a PEM file")
        chain, key_file, fingerprint, authority = certificate, key, "", None
    else:
        chain, key_file, fingerprint = make_certificate(safe, addresses)
        authority = safe / "authority.crt"
    hosts = LOOPBACK | {*addresses, _host(), f"{_host()}.local"}
    full = tuple(f"https://{a}:{port}" for a in addresses) + (f"https://{_host()}.local:{port}",)
    access = Access(hosts=frozenset(hosts), sign_in=True, secure=True, addresses=full, fingerprint=fingerprint, authority=authority)
    return access, {"ssl_certfile": str(chain), "ssl_keyfile": str(key_file)}
