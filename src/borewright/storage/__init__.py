"""Where everything is kept: the job book, attachments, settings, rate cards, accounts, backups.

What others call::

    open_job_book(folder=None, *, url=None) -> JobBook          None is data_folder(); url names another database than SQLite
    book.add(entries) -> [Receipt(id, sequence, received, fresh)]      idempotent; Conflict if an id has other content; all or none
    book.write(job, kind, body, *, by, at=None, strikes_out=None, job_new=False) -> Entry
    book.write_all(job, [(kind, body), ...], *, by, ...) -> [Entry]    all or none
    book.entries(job), book.entry(id), book.since(sequence, job=None, limit=1000) -> entries
    book.job(job) -> Job (shared: do not change it); book.jobs() -> [JobLine]; book.find(text) -> UUID
    book.attach(data) -> sha256; book.attachment(sha256) -> Path
    book.check(rebuild=False) -> CheckReport; book.backup(path) -> Path; book.close(); book.device; book.folder

Names are loaded when first asked for: a command that needs only the settings does not load the database.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from borewright.storage.jobbook import JobBook, Receipt, open_job_book
    from borewright.storage.projection import JobLine

_WHERE = {
    "JobBook": "jobbook", "Receipt": "jobbook", "open_job_book": "jobbook", "JobLine": "projection",
    "data_folder": "home",
}
__all__ = ["JobBook", "JobLine", "Receipt", "data_folder", "open_job_book"]


def __getattr__(name: str):
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)
