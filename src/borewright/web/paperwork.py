"""Issuing a paper from a page: made, kept by its hash, and written down as issued."""

from __future__ import annotations

import tempfile
from pathlib import Path
from uuid import UUID

from borewright.errors import BadInput, Refused
from borewright.record.complete import PAPERS, problems
from borewright.record.entries import entry_to_json
from borewright.web.acts import Desk

__all__ = ["issue_paper"]


def issue_paper(desk: Desk, job_id: UUID, document: str, paper: str) -> str:
    """Make a paper of the job and return its SHA-256.

    Raises
    ------
    BadInput
        No such paper or size.
    Refused
        Something is missing that the paper cannot go out without.
    """
    import json
    from hashlib import sha256

    from borewright.papers import make_paper

    if document not in PAPERS:
        raise BadInput("document", document, "is not a paper", "one of " + ", ".join(PAPERS))
    if paper not in ("A4", "Letter"):
        raise BadInput("paper", paper, "is not a size of paper", "A4 or Letter")
    job = desk.book.job(job_id)
    blocking = [p.message for p in problems(job, document) if p.blocks]
    if blocking:
        raise Refused(f"The {document} cannot go out yet. " + " ".join(blocking))
    standing = [entry_to_json(entry, stored=False) for entry, striker in job.history if striker is None and entry.kind != "papers.issued"]
    inputs = sha256(json.dumps(standing, sort_keys=True, ensure_ascii=False).encode()).hexdigest()
    with tempfile.TemporaryDirectory() as folder:
        made = make_paper(job, document, paper=paper, settings=desk.settings, folder=Path(folder))
        sha = desk.book.attach(Path(made).read_bytes())
    desk.book.write(job_id, "papers.issued", {"document": document, "sha256": sha, "inputs_sha256": inputs, "paper": paper}, by=desk.by)
    return sha
