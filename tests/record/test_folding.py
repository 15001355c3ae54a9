"""A fold carried on batch by batch is the fold of everything, whatever comes late, twice over or struck out; and what was folded before stays as it was."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID

from hypothesis import given, settings
from hypothesis import strategies as st

from borewright.record import Entry, fold
from borewright.record.folding import carried_on, folded

BEGUN = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
JOB = UUID(int=7)
_BODIES = st.one_of(
    st.builds(lambda h, d: ("rig.advanced", {"hole": h, "to_depth": d}), st.integers(1, 3), st.floats(0, 90)),
    st.builds(lambda h, d: ("rig.ground", {"hole": h, "from_depth": d, "to_depth": d + 2.0, "words": "clay"}), st.integers(1, 3), st.floats(0, 90)),
    st.builds(lambda h, d: ("rig.struck", {"hole": h, "depth": d}), st.integers(1, 3), st.floats(0, 90)),
    st.builds(lambda h: ("rig.stopped", {"hole": h, "depth": 30.0, "reason": "other"}), st.integers(1, 3)),
    st.builds(lambda h, r: ("test.run", {"hole": h, "run": r, "type": "step"}), st.integers(1, 2), st.sampled_from(("A", "B"))),
    st.builds(lambda h, r: ("test.fitted", {"hole": h, "run": r, "answer": {}}), st.integers(1, 2), st.sampled_from(("A", "B"))),
    st.builds(lambda w: ("enquiry.opened", {"title": w}), st.sampled_from(("one", "two"))),
    st.builds(lambda n: ("ground.spot", {"name": n, "latitude": 1.0, "longitude": 2.0}), st.sampled_from(("A", "B"))),
    st.just(("rig.invented", {"hole": 1})), st.just(("struck_out", {})),
)


@st.composite
def _streams(draw):
    """Entries in the order in which they arrive, and where the batches end."""
    many = draw(st.integers(1, 24))
    counters = {"a": 0, "b": 0}
    made = []
    for n in range(many):
        device = draw(st.sampled_from("ab"))
        counters[device] += draw(st.integers(1, 2))
        kind, body = draw(_BODIES)
        aim = draw(st.integers(0, many - 1)) if kind == "struck_out" or draw(st.integers(0, 5)) == 0 else None
        strikes = UUID(int=1000 + aim) if aim is not None and aim != n else None
        if kind == "struck_out" and strikes is None:
            kind, body = "rig.note", {"text": "x"}
        at = BEGUN + timedelta(minutes=n + draw(st.sampled_from((0, 0, 0, -90, 40))))
        made.append(Entry(id=UUID(int=1000 + n), job=JOB, kind=kind, at=at, by="x", device=device, counter=counters[device], body=body, strikes_out=strikes))
    if draw(st.booleans()):
        made = draw(st.permutations(made))
    return made, sorted(set(draw(st.lists(st.integers(1, many), max_size=5))) | {many})


@settings(max_examples=150, deadline=None, derandomize=True)
@given(_streams())
def test_carried_on_is_the_fold_of_everything(stream):
    entries, ends = stream
    held = folded(entries[:ends[0]])
    for start, end in zip(ends, ends[1:], strict=False):
        earlier = held
        held = carried_on(earlier, entries[:end], entries[start:end])
        assert held.job == fold(entries[:end])
        assert earlier.job == fold(entries[:start])  # others may be reading it
    assert held.job == fold(entries)


def test_a_log_in_order_is_not_folded_anew(monkeypatch):
    from borewright.record import folding

    made = [Entry(id=UUID(int=n), job=JOB, kind="rig.advanced", at=BEGUN + timedelta(minutes=n), by="x", device="a", counter=n, body={"to_depth": float(n)}) for n in range(1, 41)]
    held = folded(made[:10])
    wanted = fold(made)
    monkeypatch.setattr(folding, "fold", None)
    for start in (10, 20, 30):
        held = carried_on(held, made[:start + 10], made[start:start + 10])
    assert held.job == wanted
