"""Issuing a paper from a page: made, kept by its hash, and written down as issued."""

from __future__ import annotations

import tempfile
from pathlib import Path
from uuid import UUID

from borewright.web.acts import Desk

__all__ = ["issue_paper"]


def issue_paper(desk: Desk, job: UUID, document: str, paper: str) -> str:
    """Make a paper of the job, keep it, and return its SHA-256; raises as `borewright.papers.issue` does."""
    from borewright.papers import issue

    with tempfile.TemporaryDirectory() as folder:
        path, _ = issue(desk.book, job, document, settings=desk.settings, folder=Path(folder), by=desk.by, paper=paper)
        return desk.book.attach(path.read_bytes())
