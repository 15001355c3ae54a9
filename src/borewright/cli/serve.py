"""`borewright serve`: the web app on this machine, or on the local network with people who sign in and HTTPS."""

from __future__ import annotations

import argparse

from borewright.errors import BadInput

__all__ = ["add_serve", "run_serve"]


def add_serve(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("--port", type=int, default=8737, help="port to listen on (default 8737; 0 takes a free one)")
    parser.add_argument("--lan", action="store_true", help="open it to the local network: asks the first owner for a passphrase, speaks HTTPS")
    parser.add_argument("--open", action="store_true", help="open it in the browser")
    parser.add_argument("--passphrase-file", metavar="FILE", help="read the owner's passphrase for --lan from a file instead of asking; a new one in it replaces the old")
    parser.add_argument("--certificate", metavar="FILE", help="a certificate of your own (PEM) instead of one made here; with --key")
    parser.add_argument("--key", metavar="FILE", help="the key of that certificate (PEM)")


def run_serve(arguments: argparse.Namespace) -> int:
    """Serve until stopped."""
    import socket

    from borewright.storage import data_folder, open_job_book

    if not 0 <= arguments.port <= 65535:
        raise BadInput("port", arguments.port, "is not a port", "0 to 65535")
    if bool(arguments.certificate) != bool(arguments.key):
        raise BadInput("certificate", arguments.certificate, "comes without its key", "--certificate FILE --key FILE")
    folder = data_folder()
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind(("0.0.0.0" if arguments.lan else "127.0.0.1", arguments.port))
        listener.listen(128)  # who calls before the app is up waits instead of being turned away
    except OSError as error:
        listener.close()
        raise BadInput("port", arguments.port, f"cannot be listened on ({error.strerror})", "a free port, such as --port 0") from None
    port = listener.getsockname()[1]
    try:
        with open_job_book(folder) as book:
            if not arguments.lan:
                from borewright.web.guard import Access

                return _serve(book, folder, Access(), listener, f"http://127.0.0.1:{port}", {}, open_browser=arguments.open)
            from borewright.storage import Accounts, load_settings
            from borewright.web.lan import first_owner, lan_access

            access, tls = lan_access(folder, port, certificate=arguments.certificate, key=arguments.key)
            who = first_owner(folder / "lan", Accounts(book.engine), load_settings(folder).owner.strip() or "owner", passphrase_file=arguments.passphrase_file)
            return _serve(book, folder, access, listener, access.addresses[0], tls, open_browser=arguments.open, who=who)
    finally:
        listener.close()


def _serve(book, folder, access, listener, address: str, tls: dict[str, str], *, open_browser: bool, who: str = "") -> int:
    import uvicorn

    from borewright.web import create_app

    app = create_app(book, folder, access=access)
    _keep_backups(book, folder)
    print(f"Borewright is at {address}  (stop it with Ctrl+C)", flush=True)
    if who:
        print(who, flush=True)
    if access.addresses:
        _show_phone(address, access.fingerprint)
    if open_browser:
        import threading
        import webbrowser

        threading.Timer(0.7, webbrowser.open, (address,)).start()
    config = uvicorn.Config(app, log_level="warning", server_header=False, proxy_headers=False, **tls)
    uvicorn.Server(config).run(sockets=[listener])
    return 0


def _keep_backups(book, folder) -> None:
    """Back up once a day while the app runs, in the background; a failure is told and never stops the app."""
    import sys
    import threading
    import time

    def watch() -> None:
        from borewright.errors import BorewrightError
        from borewright.storage import backup_if_due, load_settings

        while True:
            try:
                backup_if_due(book, keep_days=load_settings(folder).keep_backups)
            except (BorewrightError, OSError) as error:
                print(f"borewright: the daily backup failed: {error}", file=sys.stderr, flush=True)
            time.sleep(3600.0)

    threading.Thread(target=watch, daemon=True, name="backups").start()


def _show_phone(address: str, fingerprint: str) -> None:
    """Print the square that a phone scans, and the fingerprint to compare."""
    import sys

    import segno

    print(f"On a phone of the same network: {address}/phone", flush=True)
    if sys.stdout.isatty():
        segno.make(f"{address}/phone", error="m").terminal(compact=True)
    if fingerprint:
        print(f"Fingerprint of the certificate: {fingerprint}", flush=True)
