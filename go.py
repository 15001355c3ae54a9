"""Set up a private environment beside this file and run Borewright in it: `python3 go.py [serve | test | any command]`.

Plain Python 3.11 or newer on Linux, macOS or Windows; nothing else needs to be there. With no words it runs the demo.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import venv
from pathlib import Path

HERE = Path(__file__).resolve().parent
ENVIRONMENT = HERE / ".venv"
WINDOWS = os.name == "nt"
BIN = ENVIRONMENT / ("Scripts" if WINDOWS else "bin")
PYTHON = BIN / ("python.exe" if WINDOWS else "python")


def _say(text: str) -> None:
    print(f"go: {text}", flush=True)


def _stamp(names: tuple[str, ...]) -> str:
    """Return the fingerprint of what the environment was made from, so that a second run skips the work."""
    digest = hashlib.sha256(sys.version.encode())
    for name in (*names, "pyproject.toml"):
        digest.update((HERE / name).read_bytes())
    return digest.hexdigest()


def _install(names: tuple[str, ...], mark: str) -> None:
    """Install pinned and hashed requirements unless the mark says that they are there."""
    note = ENVIRONMENT / f"{mark}.stamp"
    stamp = _stamp(names)
    if note.exists() and note.read_text() == stamp and PYTHON.exists():
        return
    if not PYTHON.exists():
        _say("making a private environment in .venv")
        venv.EnvBuilder(with_pip=True, clear=ENVIRONMENT.exists()).create(ENVIRONMENT)
    _say(f"installing what is listed in {', '.join(names)} (once; needs the network)")
    pip = [str(PYTHON), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    files = [word for name in names for word in ("-r", str(HERE / name))]
    subprocess.run([*pip, "--require-hashes", *files], check=True)
    subprocess.run([*pip, "--no-deps", "--no-build-isolation", "--editable", str(HERE)], check=True)
    note.write_text(stamp)


def _browser() -> None:
    """Bring Debian's Chromium for the browser tests where that can be done without asking; elsewhere say what is left out."""
    if shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome"):
        return
    if shutil.which("apt-get") and hasattr(os, "geteuid") and os.geteuid() == 0:
        _say("installing Debian's Chromium for the browser tests")
        subprocess.run(["apt-get", "update", "-qq"], check=False)
        subprocess.run(["apt-get", "install", "-y", "-qq", "chromium"], check=False, stdout=subprocess.DEVNULL)
    if not shutil.which("chromium"):
        _say("no Chromium on this machine: the tests marked browser are left out (install chromium to run them)")


def main(words: list[str]) -> int:
    """Set up what the words need, run them, and return the exit code."""
    if sys.version_info < (3, 11):  # noqa: UP036 (this file runs on whatever Python is there)
        _say(f"Python 3.11 or newer is needed (this is {sys.version.split()[0]})")
        return 2
    try:
        if words[:1] == ["test"]:
            _install(("requirements/run.txt", "requirements/test.txt"), "test")
            _browser()
            # Whole files go to one worker, so that what a file sets up once is set up once.
            how = words[1:] or ["-n", "auto", "--dist", "loadfile"]
            return subprocess.run([str(PYTHON), "-m", "pytest", *how], cwd=HERE, check=False).returncode
        _install(("requirements/run.txt",), "run")
    except subprocess.CalledProcessError as error:
        _say(f"setting up stopped: {' '.join(map(str, error.cmd[1:4]))} ended with {error.returncode}; run it again once the network is there")
        return 1
    words = words or ["demo"]
    if words == ["serve"] and sys.stdout.isatty():
        words = ["serve", "--open"]
    try:
        return subprocess.run([str(PYTHON), "-m", "borewright.cli.main", *words], check=False).returncode
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
