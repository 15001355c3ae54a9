"""A real server in its own process, so that it can be killed."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
import urllib.request
from pathlib import Path


class Served:
    """`borewright serve` over a folder; `kill` is SIGKILL."""

    def __init__(self, home: Path, *words: str):
        self.home, self.words = home, words
        self.process: subprocess.Popen | None = None
        self.port = 0

    def start(self) -> Served:
        environment = os.environ | {"BOREWRIGHT_HOME": str(self.home), "OPENBLAS_NUM_THREADS": "1", "PYTHONUNBUFFERED": "1"}
        command = [sys.executable, "-m", "borewright.cli.main", "serve", "--port", str(self.port), *self.words]
        self.process = subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        line = self.process.stdout.readline()
        found = re.search(r"at (https?)://([\d.]+):(\d+)", line)
        assert found, f"the server said: {line}{self.process.stdout.read() if self.process.poll() is not None else ''}"
        self.port = int(found.group(3))
        if found.group(1) == "http":
            self._wait()
        return self

    def _wait(self) -> None:
        until = time.monotonic() + 60
        while time.monotonic() < until:
            try:
                urllib.request.urlopen(f"{self.base}/api/jobs", timeout=5).read()
                return
            except OSError:
                time.sleep(0.1)
        raise AssertionError("the server did not answer in a minute")

    @property
    def base(self) -> str:
        return f"http://localhost:{self.port}"

    def kill(self) -> None:
        """SIGKILL where there is one: nothing gets to tidy up."""
        self.process.send_signal(getattr(signal, "SIGKILL", signal.SIGTERM))
        self.process.wait()
        self.process.stdout.close()

    def stop(self) -> None:
        if self.process and self.process.poll() is None:
            self.process.terminate()
            try:
                self.process.wait(20)
            except subprocess.TimeoutExpired:
                self.kill()
        if self.process and not self.process.stdout.closed:
            self.process.stdout.close()

    def post(self, entries: list[dict]) -> list[dict]:
        """Post entries and return the receipts; OSError when the server is away."""
        request = urllib.request.Request(f"{self.base}/api/entries", json.dumps(entries).encode(), {"Content-Type": "application/json"})
        with urllib.request.urlopen(request, timeout=20) as answer:
            return json.loads(answer.read())["receipts"]
