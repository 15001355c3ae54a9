"""The papers of a job as PDF: quote, rig card, safety sheet, bore record, test report, water report, handover pack, invoice.

What others call::

    PAPERS                                                         the names, as `borewright.record.complete` has them
    make_paper(job, document, *, settings, folder, paper=None, attachments=None) -> Path      writes the PDF and returns where; Refused where facts that it
                                                                   cannot do without are missing
    paper_pdf(job, document, *, settings, paper=None) -> Made(pdf, sha256, inputs_sha256, document, paper, file_name)
    issue(book, job, document, *, settings, folder, by, paper=None) -> (Path, Entry)      makes it and keeps papers.issued with both hashes
    paper_data(job, document, settings=..., paper=...) -> dict     what the paper says, as plain strings: the page may show the same

The same job gives the same bytes: the date on a paper is that of the last entry it rests on, never the clock's.
"""

from borewright.papers.make import PAPERS, Made, issue, make_paper, paper_data, paper_pdf

__all__ = ["PAPERS", "Made", "issue", "make_paper", "paper_data", "paper_pdf"]
