"""The job book: entries that never change, folded into a job. See `entries`, `bodies`, `fold` and `complete`."""

from borewright.record.bodies import KINDS, read_body, validate_body
from borewright.record.complete import PAPERS, Problem, problems
from borewright.record.entries import Entry, checked_entry, content_hash, entry_from_json, entry_to_json, new_id
from borewright.record.fold import Fact, Hole, Job, Test, fold, in_order
from borewright.record.typed import body_as_typed

__all__ = [
    "KINDS", "PAPERS", "Entry", "Fact", "Hole", "Job", "Problem", "Test", "body_as_typed", "checked_entry", "content_hash",
    "entry_from_json", "entry_to_json", "fold", "in_order", "new_id", "problems", "read_body", "validate_body",
]
