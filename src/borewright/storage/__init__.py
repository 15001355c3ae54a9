"""Where everything is kept: the job book, attachments, settings, rate cards, accounts, backups.

What others call::

    open_job_book(folder=None, *, url=None) -> JobBook          None is data_folder(); url names another database than SQLite
    book.add(entries) -> [Receipt(id, sequence, received, fresh)]      idempotent; Conflict if an id has other content; all or none
    book.write(job, kind, body, *, by, at=None, strikes_out=None, job_new=False) -> Entry
    book.write_all(job, [(kind, body), ...], *, by, ...) -> [Entry]    all or none
    book.entries(job), book.entry(id), book.since(sequence, job=None, limit=1000) -> entries
    book.job(job) -> Job (shared: do not change it); book.jobs() -> [JobLine]; book.find(text) -> UUID
    book.attach(data) -> sha256; book.attachment(sha256) -> Path
    book.check(rebuild=False) -> CheckReport(entries, jobs, attachments, problems, notes, rebuilt; .ok)
    book.backup(path, replace=False) -> Path; book.close(); book.device; book.folder
    restore(path, folder, *, replace=False) -> Restored; verify_backup(path); backup_if_due(book, *, keep_days=14, now=None) -> Path | None
    Settings(firm, owner, ...), settings_from_dict(table), load_settings(folder=None), save_settings(settings, folder=None); .unit_system is
        the word that `quantities` uses
    save_rate_card(card, folder=None) -> version; current_rate_card(folder=None) -> RateCard | None; rate_card(version, folder=None);
        rate_card_versions(folder=None) -> [RateCardVersion(version, name, valid_from, saved, current)]
    Accounts(book.engine): create_user(name, role, passphrase) -> Account(id, name, role, made; .may("read|rig|write|firm")),
        verify(name, passphrase, *, source="") -> Account (Refused otherwise, and after too many tries), open_session(account) -> token,
        session(token) -> Account | None, close_session(token), set_passphrase(name, passphrase), close_account(name), users()

Names are loaded when first asked for: a command that needs only the settings does not load the database.
"""

from typing import TYPE_CHECKING

from borewright.faces import loaded_when_asked

if TYPE_CHECKING:
    from borewright.storage.accounts import Account, Accounts
    from borewright.storage.backup import Restored, backup_if_due, restore, verify_backup
    from borewright.storage.checking import CheckReport
    from borewright.storage.home import data_folder
    from borewright.storage.jobbook import JobBook, Receipt, open_job_book
    from borewright.storage.projection import JobLine
    from borewright.storage.ratecards import (
        RateCardVersion,
        current_rate_card,
        rate_card,
        rate_card_versions,
        save_rate_card,
    )
    from borewright.storage.settings import Settings, load_settings, save_settings, settings_from_dict

_WHERE = {
    "accounts": ("Account", "Accounts"),
    "backup": ("Restored", "backup_if_due", "restore", "verify_backup"),
    "checking": ("CheckReport",),
    "home": ("data_folder",),
    "jobbook": ("JobBook", "Receipt", "open_job_book"),
    "projection": ("JobLine",),
    "ratecards": ("RateCardVersion", "current_rate_card", "rate_card", "rate_card_versions", "save_rate_card"),
    "settings": ("Settings", "load_settings", "save_settings", "settings_from_dict"),
}
__all__ = [
    "Account", "Accounts", "CheckReport", "JobBook", "JobLine", "RateCardVersion", "Receipt", "Restored", "Settings", "backup_if_due", "current_rate_card",
    "data_folder", "load_settings", "open_job_book", "rate_card", "rate_card_versions", "restore", "save_rate_card", "save_settings", "settings_from_dict",
    "verify_backup",
]

__getattr__ = loaded_when_asked(__name__, _WHERE)
