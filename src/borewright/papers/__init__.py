"""The papers of a job as PDF: quote, rig card, safety sheet, bore record, test report, water report, handover pack, invoice.

What others call::

    PAPERS                                                         the names, as `borewright.record.complete` has them
    make_paper(job, document, *, settings, folder, paper=None, attachments=None) -> Path      writes the PDF and returns where; Refused where facts that it
                                                                   cannot do without are missing
    paper_pdf(job, document, *, settings, paper=None, attachments=None) -> Made(pdf, sha256, inputs_sha256, document, paper, file_name)
    issue(book, job, document, *, settings, folder, by, paper=None) -> (Path, Entry)      makes it and keeps papers.issued with both hashes
    paper_data(job, document, settings=..., paper=...) -> dict     what the paper says, as plain strings: the page may show the same

    forms(folder=None), load_form(name, folder=None), add_form(source, folder=None, name=None, replace=False)      an authority's form, from `forms/` of the
    form_data(job, form, settings=...), form_pdf(job, form, settings=...)                      data folder (borewright.papers.authority says how one is made)
    form_lacks(job, form, settings=...) -> [(field, path, where it is written)]      what it cannot be filled without
    issue_form(book, job, name, *, settings, folder, by) -> (Path, Entry | None)
    languages() -> codes of the languages there are; Settings.language picks one

The same job gives the same bytes: the date on a paper is that of the last entry it rests on, never the clock's.
"""

from borewright.papers.authority import (
    AuthorityForm,
    add_form,
    form_data,
    form_lacks,
    form_pdf,
    forms,
    issue_form,
    load_form,
)
from borewright.papers.language import languages
from borewright.papers.make import PAPERS, Made, issue, make_paper, paper_data, paper_pdf

__all__ = [
    "PAPERS", "AuthorityForm", "Made", "add_form", "form_data", "form_lacks", "form_pdf", "forms", "issue", "issue_form", "languages", "load_form", "make_paper", "paper_data", "paper_pdf",
]
