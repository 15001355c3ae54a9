"""How a paper says things: in the firm's language and units, with its word for a bore, money, dates in the site's zone, "not recorded" for what is not."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from borewright.drawing.scales import depth_words, slot_words
from borewright.drawing.words import Tongue
from borewright.papers.language import Language, load_language
from borewright.papers.toldunits import in_firms_units
from borewright.quantities import from_si, rounded, show, shown_unit
from borewright.record.fold import Fact, Hole, Job

if TYPE_CHECKING:
    from borewright.papers.photos import Album
    from borewright.storage import Settings

__all__ = ["Wording", "advisories_of", "gravest_first", "heading", "number", "printed"]

NO_BREAK = "\u00a0"  # keeps a figure and its unit on one line


def heading(text: str) -> dict[str, str]:
    """Return a heading block."""
    return {"kind": "heading", "text": text}


def number(given: Any) -> float | None:
    """Return a finite number out of a dict that may hold anything, or None."""
    if isinstance(given, Mapping):
        given = given.get("value", given.get("si"))
    if isinstance(given, bool) or not isinstance(given, (int, float)) or given != given or abs(given) == float("inf"):
        return None
    return float(given)


def advisories_of(w: Wording, *tables: Any) -> list[dict[str, str]]:
    """Return the advisories that results carry, each once, dangers first."""
    found: dict[str, dict[str, str]] = {}
    for table in tables:
        rows = table.get("advisories") if isinstance(table, Mapping) else table
        for row in rows or ():
            if isinstance(row, Mapping) and row.get("message"):
                said = str(row["message"])
                found.setdefault(said, {"severity": str(row.get("severity", "note")), "message": printed(w.told(said[:1].upper() + said[1:]))})
    return gravest_first(found.values())


def gravest_first(rows: Iterable[dict[str, str]]) -> list[dict[str, str]]:
    """Return cautions in order: dangers, doubts, notes."""
    order = {"danger": 0, "doubt": 1, "note": 2}
    return sorted(rows, key=lambda r: order.get(r["severity"], 2))


def printed(text: str) -> str:
    """Return a quantity with the signs that paper has and a keyboard has not."""
    return text.replace("m3", "m³").replace("m2", "m²").replace("ft2", "ft²").replace("uS/", "µS/").replace("ug/", "µg/").replace("degC", "°C").replace("degF", "°F").replace("CaCO3", "CaCO₃")


class Wording:
    """Formats the facts of one job for one firm. Every method gives "" or None-safe text; the template says "not recorded" for nothing."""

    def __init__(self, job: Job, settings: Settings, *, until: datetime | None = None, album: Album | None = None):
        self.job, self.settings, self.album = job, settings, album
        self.system = settings.unit_system
        self.language: Language = load_language(settings.language)
        self.as_told: list[str] = []  # sentences that the phrasebook has not
        self.word = self.language.texts["words"][settings.word]
        zone = (job.site.body.zone if job.site else "") or ("" if settings.zone == "UTC" else settings.zone)
        self._zone = _zone_of(zone)
        entries = [e for e, striker in job.history if striker is None and e.kind != "papers.issued"]
        self.moment: datetime = until or max((e.at for e in entries), default=job.history[0][0].at)
        self.invented = bool(job.quote and job.quote.body.content.get("card_invented")) or "invented" in settings.firm.lower()

    @property
    def Word(self) -> str:
        """The word for a bore with a capital."""
        return self.word.capitalize()

    def say(self, key: str, **values: Any) -> str:
        """A text of the language file with its values in place; `word` and `Word` are always there."""
        return self.language.texts["papers"][key].format(word=self.word, Word=self.Word, **values)

    def lines(self, key: str) -> list[str]:
        """A list of sentences of the language file."""
        return [line.format(word=self.word, Word=self.Word) for line in self.language.texts["lists"][key]]

    def cautions(self, key: str) -> list[dict[str, str]]:
        """The cautions that a paper always carries, dangers first as they are written."""
        return [{"severity": c["severity"], "message": c["message"].format(word=self.word, Word=self.Word)} for c in self.language.texts["cautions"][key]]

    def term(self, word: str) -> str:
        """A word of the job book (a string, a method, a reason) in the language; a word that the file has not stays as it was written."""
        return self.language.texts["terms"].get(word, word)

    def of(self, what: str, said: str) -> str:
        """What something is, and what is said of it where anything is."""
        return self.say("about_and_words", about=what, words=said) if said else what

    def material(self, name: str) -> str:
        """A material in the language where it has a word for it; the driller's own name for it otherwise."""
        return self.language.texts["terms"].get(name) or self.language.phrase(name)

    def tongue(self) -> Tongue:
        """What drawings speak on this paper."""
        texts = self.language.texts
        return Tongue(texts.get("drawing", {}), self.material, self.figures, self.language.code)

    def told(self, sentence: str) -> str:
        """A sentence that a calculation told: in the language where the phrasebook has it, else as it was told."""
        answer, strange = self.language.known(sentence)
        if self.language.code != "en":
            self.as_told += [one for one in strange if len(one.split()) > 3]
        return self._in_the_firms_units(answer)

    def _in_the_firms_units(self, told: str) -> str:
        form = self.language.texts["format"]
        return self.figures(in_firms_units(told, self.system, decimal=form["decimal"], group=form["group"])) if self.system != "metric" else told

    def figures(self, text: str) -> str:
        """Figures written with a point, as the language writes them."""
        return self.language.figures(text)

    def n(self, value: float, digits: int = 3, *, decimals: int | None = None) -> str:
        """A bare number: to significant digits with no zero behind, or with fixed decimals."""
        return self.figures(f"{value:.{decimals}f}" if decimals is not None else rounded(value, digits))

    def whole(self, value: float) -> str:
        """A count, thousands apart."""
        return self.figures(f"{value:,.0f}")

    def percent(self, share: float) -> str:
        """A fraction as the language writes a percentage."""
        return self.language.texts["format"]["percent"].format(number=f"{100 * share:.0f}")

    def contact(self) -> str:
        """The firm in one line."""
        s = self.settings
        licence = self.say("licence", licence=s.licence).replace(" ", NO_BREAK) if s.licence else ""
        return " · ".join([*(" ".join(p.split()) for p in (s.address, s.phone, s.email) if p), *([licence] if licence else [])])

    def local(self, moment: datetime) -> datetime:
        """A moment in the site's zone, where one is known; else with the offset it was written with."""
        return moment.astimezone(self._zone) if self._zone else moment

    def date_parts(self) -> list[int]:
        """Year, month, day of the record."""
        at = self.local(self.moment)
        return [at.year, at.month, at.day]

    def day(self, moment: datetime) -> str:
        """A date as the firm's country writes it."""
        return self._written(self.local(moment))

    def _written(self, at: datetime) -> str:
        form = self.language.texts["format"]
        order = form["date_us"] if self.settings.units == "us" else form["date_first"] if at.day == 1 else form["date"]
        return order.format(day=at.day, month=form["months"][at.month - 1], year=at.year)

    def iso_day(self, text: str) -> str:
        """An ISO date as the firm's country writes it; anything else as it stands."""
        try:
            at = datetime.fromisoformat(text)
        except ValueError:
            return text
        return self._written(at)

    def day_of_record(self) -> str:
        """The date of the last entry that a paper rests on."""
        return self.day(self.moment)

    def depth(self, depth: float | None) -> str:
        """A depth to the digit it was recorded in, with its unit."""
        return "" if depth is None else f"{self.figures(depth_words(depth, self.system))}{NO_BREAK}{shown_unit('depth', self.system)}"

    def distance(self, metres: float | None) -> str:
        """A length over land: metres or feet when near, kilometres or miles when far."""
        if metres is None:
            return ""
        far = metres >= 2000
        unit = ("km" if far else "m") if self.system == "metric" else ("mile" if far else "ft")
        text = self.figures(show(metres, "length", unit=unit, digits=3))
        return self.say("miles", number=text.removesuffix(" mile")) if unit == "mile" and not text.startswith("1 ") else text

    def fine_depth(self, depth: float) -> str:
        """A reading of a level: to the millimetre, or the hundredth of a foot."""
        unit = shown_unit("depth", self.system)
        return self.figures(f"{from_si(depth, 'depth', unit):.{3 if unit == 'm' else 2}f} {unit}".replace("-", "−"))

    def span(self, top: float, bottom: float) -> str:
        """Two depths, one unit."""
        return self.figures(f"{depth_words(top, self.system)}–{depth_words(bottom, self.system)}") + f"{NO_BREAK}{shown_unit('depth', self.system)}"

    def level(self, level: float | None) -> str:
        """A water level in words: below ground, or how high it stands above."""
        if level is None:
            return ""
        return self.say("below_ground", depth=self.depth(level)) if level >= 0 else self.say("above_ground_flows", depth=self.depth(-level))

    def q(self, si: float | None, kind: str, digits: int = 3) -> str:
        """A quantity in the firm's units."""
        return "" if si is None else self.figures(printed(show(si, kind, system=self.system, digits=digits))).replace(" ", NO_BREAK)

    def flow(self, si: float | None) -> str:
        """A flow in the firm's unit."""
        return self.q(si, "flow")

    def flows(self, low: float, high: float) -> str:
        """Two flows, one unit."""
        first, second = self.flow(low), self.flow(high)
        number, _, unit = first.partition(NO_BREAK)
        return f"{number} – {second}" if second.partition(NO_BREAK)[2] == unit else f"{first} – {second}"

    def diameter(self, si: float | None) -> str:
        """A diameter in the firm's unit, to four digits."""
        return self.q(si, "diameter", 4)

    def slot(self, si: float) -> str:
        """A slot width: millimetres, or inches to the thousandth."""
        return self.figures(slot_words(si, self.system))

    def typed(self, fact: Fact | None, name: str, shown: str) -> str:
        """A quantity as it was typed, with the firm's unit behind it where the two differ."""
        text = fact.body.typed.get(name, "") if fact else ""
        return shown if not text or text == shown.replace(NO_BREAK, " ") else f"{text} ({shown})"

    def money(self, minor: float | None, currency: str | None = None) -> str:
        """An amount, exact."""
        from borewright.pricing import show_minor

        if minor is None:
            return ""
        code, _, amount = show_minor(int(round(minor)), currency or self.settings.currency).partition(" ")
        return self.language.texts["format"]["money"].format(currency=code, amount=self.figures(amount).replace("-", "−"))

    def amount(self, minor: float, currency: str) -> str:
        """An amount to three digits without its currency, behind one that has it."""
        return self.round_money(minor, currency).replace(currency, "").strip()

    def round_money(self, minor: float | None, currency: str) -> str:
        """An amount to three digits: a range from a simulation promises no more."""
        if minor is None:
            return ""
        step = 10 ** max(0, len(str(abs(int(minor)))) - 3)
        text = self.money(int(round(minor / step)) * step, currency)
        return text.replace(self.language.texts["format"]["decimal"] + "00", "") if step >= 100 or not round(minor) else text

    def place(self, fact: Fact | None) -> str:
        """Latitude and longitude."""
        if fact is None:
            return ""
        lat, lon = fact.body.latitude, fact.body.longitude
        north, east = self.term("S" if lat < 0 else "N"), self.term("W" if lon < 0 else "E")
        return f"{self.n(abs(lat), decimals=5)}° {north}, {self.n(abs(lon), decimals=5)}° {east}"

    def in_100(self, share: float | None) -> str:
        """A probability as so many in 100."""
        if share is None:
            return ""
        value = 100 * share
        return self.say("under_1_in_100") if 0 < value < 0.5 else self.say("over_99_in_100") if 99.5 < value < 100 else self.say("in_100", value=value)

    def hours(self, seconds: float | None) -> str:
        """A duration in hours."""
        return "" if seconds is None else self.figures(show(seconds, "time", unit="h", digits=3))

    def customer(self) -> str:
        """The customer's name, or nothing."""
        return self.job.customer.body.name if self.job.customer else ""

    def drillers(self, hole: Hole) -> str:
        """Who wrote the log of a hole."""
        facts = [hole.started, *hole.ground, *hole.advances, hole.stopped]
        return ", ".join(dict.fromkeys(f.entry.by for f in facts if f))

    def drilled_between(self, hole: Hole) -> str:
        """First and last day on the hole."""
        facts: Sequence[Fact | None] = [hole.started, *hole.ground, *hole.advances, *hole.strikes, *hole.casings, hole.stopped]
        moments = sorted(f.entry.at for f in facts if f)
        if not moments:
            return ""
        first, last = self.day(moments[0]), self.day(moments[-1])
        return first if first == last else f"{first} – {last}"


def _zone_of(name: str) -> Any:
    if not name:
        return None
    from zoneinfo import ZoneInfo

    try:
        return ZoneInfo(name)
    except (ValueError, OSError, KeyError):
        return None
