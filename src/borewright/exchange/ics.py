"""The season's jobs as a calendar (RFC 5545): days on the rig as they were, accepted jobs still to drill, quotes that run out."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta

from borewright.record import Job

__all__ = ["write_calendar"]


def write_calendar(jobs: Iterable[Job], *, made: datetime) -> bytes:
    """Return the calendar. The customer's name stays out: calendars are shared more freely than books.

    Parameters
    ----------
    made : datetime
        DTSTAMP of every component, so that the same jobs and moment give the same bytes.
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Borewright//Season//EN", "CALSCALE:GREGORIAN"]
    stamp = made.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    for job in jobs:
        for day in _rig_days(job):
            lines += _component("VEVENT", f"{job.id}-{day:%Y%m%d}@rig.borewright", stamp, job, [
                f"SUMMARY:{_text('Rig: ' + job.title)}", f"DTSTART;VALUE=DATE:{day:%Y%m%d}", f"DTEND;VALUE=DATE:{day + timedelta(days=1):%Y%m%d}", "TRANSP:OPAQUE"])
        if job.accepted and not job.holes and job.outcome == "open":
            lines += _component("VTODO", f"{job.id}@drill.borewright", stamp, job, [f"SUMMARY:{_text('To drill: ' + job.title)}", "STATUS:NEEDS-ACTION"])
        until = _day(job.quote.body.valid_until) if job.quote and not job.accepted and job.outcome == "open" else None
        if until:
            lines += _component("VTODO", f"{job.id}@quote.borewright", stamp, job, [
                f"SUMMARY:{_text('Quote runs out: ' + job.title)}", f"DUE;VALUE=DATE:{until:%Y%m%d}", "STATUS:NEEDS-ACTION"])
    lines.append("END:VCALENDAR")
    return "".join(_folded(line) for line in lines).encode()


def _rig_days(job: Job) -> list[date]:
    """Return the days, by the clock of whoever wrote, on which something was recorded on the rig."""
    return sorted({entry.at.date() for entry, struck in job.history if struck is None and entry.kind.startswith("rig.")})


def _component(kind: str, uid: str, stamp: str, job: Job, lines: list[str]) -> list[str]:
    place = job.spot or job.site
    where = []
    if place:
        where.append(f"GEO:{place.body.latitude:.6f};{place.body.longitude:.6f}")
        if place.body.name and job.site and job.site.body.name:
            where.append(f"LOCATION:{_text(job.site.body.name)}")
    return [f"BEGIN:{kind}", f"UID:{uid}", f"DTSTAMP:{stamp}", *lines, *where, f"END:{kind}"]


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def _text(words: str) -> str:
    """Return a TEXT value (RFC 5545 section 3.3.11): backslash, semicolon, comma and newline escaped, other controls left out."""
    plain = words.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\r\n", "\\n").replace("\n", "\\n")
    return "".join(c for c in plain if c == "\t" or ord(c) >= 32 and ord(c) != 127)


def _folded(line: str) -> str:
    """Return a content line folded at 75 octets (section 3.1), never within a character."""
    out, count = [], 0
    for letter in line:
        size = len(letter.encode())
        if count + size > 75:
            out.append("\r\n ")
            count = 1
        out.append(letter)
        count += size
    return "".join(out) + "\r\n"
