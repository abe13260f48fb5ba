"""Shifts in words, in one language and one system of units, by the clock of one zone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from bot.record.texts import RecordKey, RecordTexts
from engine.dialog.facts.stock_facts import Movement
from engine.dialog.reply.system_texts import SystemKey as HouseKey
from engine.dialog.reply.wording import Wording
from engine.history.alarms import EmergencyAsked
from engine.history.balance import Balance
from engine.history.put_away import StorageRecord, Tubes
from engine.history.shifts import ShiftRecord, SuspectStretch
from engine.history.stock import StockChange
from engine.history.store.segments import Ending
from engine.messages import Language, Report, System
from engine.quantities import Measure
from engine.shift.record.shift_facts import OverLabel, RateFound

DATE, HOUR = "%Y-%m-%d", "%H:%M"
JUDGED = {"agrees": RecordKey.PUT_BACK_AGREES, "less": RecordKey.PUT_BACK_LESS, "more": RecordKey.PUT_BACK_MORE}
MOVEMENTS = {
    Movement.DELIVERED: RecordKey.STOCK_DELIVERED,
    Movement.LOADED: RecordKey.STOCK_LOADED,
    Movement.RETURNED: RecordKey.STOCK_RETURNED,
}
LOCKED = {(True, True): RecordKey.LOCKED, (True, False): RecordKey.LOCKED_IN, (False, True): RecordKey.LOCKED_BY}
TUBES = {
    Tubes.CLEANED: RecordKey.TUBES_CLEANED,
    Tubes.DISPOSED: RecordKey.TUBES_DISPOSED,
    Tubes.LATER: RecordKey.TUBES_LATER,
}
INDENT = "  "
LONG_UNLOOKED = timedelta(hours=1)
UNPROVED = Measure(value=5.0, unit="acre")
"""From so much on that nothing shows to have been fed, it is said (own decision): less lies between two looks."""
SUREST = 99.0
"""Percent: nobody is surer than that of a row."""


@dataclass(frozen=True)
class RecordReport:
    """Tells what the record holds."""

    texts: RecordTexts
    language: Language
    zone: tzinfo
    system: System = System.US

    @property
    def wording(self) -> Wording:
        return Wording(self.language, self.system)

    def say(self, key: RecordKey, **values: str) -> str:
        return self.texts.say(key, self.language, **values)

    def planter(self, number: int) -> str:
        """What a planter without a name is called."""
        return self.say(RecordKey.PLANTER_NUMBER, number=str(number))

    def rough(self, measure: Measure) -> str:
        return self.wording.rough(measure)

    # ---- moments

    def moment(self, when: datetime) -> str:
        """Date and hour on the wall."""
        return f"{when.astimezone(self.zone):{DATE}} {self.hour(when)}"

    def hour(self, when: datetime) -> str:
        """The hour on the wall; with the name of its time where that hour comes twice."""
        local = when.astimezone(self.zone)
        twice = local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()
        return f"{self.clock(local)} {local:%Z}" if twice else self.clock(local)

    def clock(self, local: datetime) -> str:
        """An hour as it can be sorted."""
        return f"{local:{HOUR}}"

    def until(self, end: datetime, since: datetime) -> str:
        """The end of a span: its hour alone, where it is of the same day."""
        same = end.astimezone(self.zone).date() == since.astimezone(self.zone).date()
        return self.hour(end) if same else self.moment(end)

    # ---- shifts

    def shift(self, record: ShiftRecord) -> list[str]:
        """A shift in a few lines, without what its application record lacks."""
        where = f", {', '.join(record.fields)}" if record.fields else ""
        head = self.say(
            RecordKey.SHIFT_HEAD,
            since=self.moment(record.started_at),
            until=self.until(record.ended_at, record.started_at),
            where=where,
            area=self.rough(record.planted),
            hours=self.wording.hours(record.worked.total_seconds()),
            ending=self.ended(record.ending),
        )
        with_ = " · ".join(self.around(record))
        looks = self.say(RecordKey.LOOKS, looks=str(len(record.looks)), refills=str(len(record.refills)))
        rest = self.put_away(record.put_away) if record.put_away else []
        return [
            head,
            *([with_] if with_ else []),
            looks,
            *self.truth(record),
            *self.label(record),
            self.doubt(record),
            *rest,
        ]

    def ended(self, ending: Ending) -> str:
        """How a dialog ended."""
        return self.say(RecordKey(f"ending_{ending}"))

    def around(self, record: ShiftRecord) -> list[str]:
        """Product, lots and people, as far as they have names."""
        lots = [self.say(RecordKey.LOTS, lots=", ".join(record.lots))] if record.lots else []
        people = [self.say(RecordKey.PEOPLE, names=", ".join(record.operators))] if record.operators else []
        return [*record.products, *lots, *people]

    def truth(self, record: ShiftRecord) -> list[str]:
        """The true rate of a shift, whether it is odd, and the rows that are named; nothing where none is known."""
        rate = self.rate_of(record)
        rows = [self._odd(one, row) for one in record.rates for row in one.odd]
        return [" ".join(rate), *rows] if rate else []

    def label(self, record: ShiftRecord) -> list[str]:
        """Rates over the label's highest that were measured, and who decided to go on."""
        return self.over_label(record.over_label, record.decided_by)

    def over_label(self, found: Iterable[OverLabel], decided_by: Iterable[str]) -> list[str]:
        """The same of some of them."""
        over = [
            self.say(RecordKey.OVER_LABEL_ROWS, rows=self.wording.row_place(one.rows), **self._over(one))
            if one.rows
            else self.say(RecordKey.OVER_SEASON if one.season else RecordKey.OVER_LABEL, **self._over(one))
            for one in found
        ]
        return [*over, *(self.say(RecordKey.DECIDED, name=name) for name in decided_by)]

    def _over(self, one: OverLabel) -> dict[str, str]:
        return {"at": self.moment(one.at), "rate": self.rough(one.rate), "limit": self.rough(one.limit)}

    def rate_of(self, record: ShiftRecord) -> list[str]:
        """The true rate of a shift, and whether it is odd."""
        found, books = record.rates, record.balance
        if books.true_rate is None or books.off is None:
            return []
        key = RecordKey.TRUE_RATE_CLOCK if found and found[-1].reckoned else RecordKey.TRUE_RATE
        rate, area = self.rough(books.true_rate), self.rough(books.known_area)
        odd = [self.say(RecordKey.RATE_ODD)] if any(one.outcome != "on_target" for one in found) else []
        return [self.say(key, rate=rate, area=area, off=self.wording.off(books.off)), *self._books(books), *odd]

    def _books(self, books: Balance) -> list[str]:
        """What the rate rests on: loaded, added and left, and how the levels were told."""
        if books.left is None:
            return []
        basis = self.say(RecordKey(f"basis_{books.basis}"))
        loaded, added, left, used = map(self.rough, (books.loaded, books.added, books.left, books.used))
        if books.added.value <= 0:
            return [self.say(RecordKey.BOOKS_PLAIN, loaded=loaded, left=left, used=used, basis=basis)]
        return [self.say(RecordKey.BOOKS, loaded=loaded, added=added, left=left, used=used, basis=basis)]

    def doubt(self, record: ShiftRecord) -> str:
        doubt = self.say(RecordKey.IN_DOUBT, area=self.rough(record.in_doubt)) if record.stretches else ""
        if record.unproved.to("acre").value >= UNPROVED.value:
            return f"{doubt} {self._unproved(record)}".strip()
        return doubt or self.say(RecordKey.NOTHING_IN_DOUBT)

    def _unproved(self, record: ShiftRecord) -> str:
        """What nothing shows to have been fed: for want of a look, or since the last that proved each row."""
        area = self.rough(record.unproved)
        if record.unlooked >= LONG_UNLOOKED:
            return self.say(RecordKey.UNPROVED, area=area, hours=self.wording.hours(record.unlooked.total_seconds()))
        return self.say(RecordKey.UNPROVED_ROWS, area=area, since=self.hour(record.unproved_since))

    def put_away(self, found: StorageRecord) -> list[str]:
        """What was left: weighed against the books, and whether it lies as it should."""
        booked, gap = self.rough(found.booked), self.rough(found.gap)
        line = self.say(RecordKey.PUT_BACK_UNWEIGHED, booked=booked)
        if found.put_back is not None:
            key = JUDGED[found.outcome]
            judged = self.say(key, **key.only(gap=gap))
            line = self.say(RecordKey.PUT_BACK, weighed=self.wording.echo(found.put_back), booked=booked, judged=judged)
        container = [] if found.own_container else [self.say(RecordKey.OTHER_CONTAINER)]
        return [" ".join(filter(None, [line, *container, self._locked(found), *self._cleaned(found)]))]

    def _locked(self, found: StorageRecord) -> str:
        """Where and who, as far as that was told."""
        if not found.locked:
            return self.say(RecordKey.NOT_LOCKED)
        if found.store is None and found.locked_by is None:
            return ""
        key = LOCKED[found.store is not None, found.locked_by is not None]
        return self.say(key, **key.only(where=found.store or "", who=found.locked_by or ""))

    def _cleaned(self, found: StorageRecord) -> list[str]:
        """Empty containers and measuring tubes."""
        empties = [] if found.empties is None else [self.say(RecordKey.EMPTIES, count=str(found.empties))]
        return [*empties, *([self.say(TUBES[found.tubes])] if found.tubes else [])]

    def rate(self, found: RateFound) -> list[str]:
        """What was weighed at one time, and the rate of every row."""
        weighed = self.say(RecordKey.WEIGHED, at=self.moment(found.at), used=self.rough(found.used))
        key = RecordKey.TRUE_RATE_CLOCK if found.reckoned else RecordKey.TRUE_RATE
        rate = self.say(key, rate=self.rough(found.rate), area=self.rough(found.area), off=self.wording.off(found.off))
        rows = [
            self._odd(found, row)
            if row in found.odd
            else self.say(RecordKey.ROW_RATE, row=str(row), rate=self.rough(one))
            for row, one in found.rows.items()
        ]
        return [f"{weighed} {rate}", *(f"{INDENT}{row}" for row in rows)]

    def stock_change(self, found: StockChange) -> str:
        """What came in, was loaded or went back of a lot, and what was on hand after it."""
        lot = found.change.lot or self.say(RecordKey.STOCK_NO_LOT)
        name = self.say(RecordKey.STOCK_LOT, product=found.change.product, lot=lot) if found.change.product else lot
        mass, held = map(self.wording.usual, (found.change.mass, found.on_hand))
        line = self.say(
            MOVEMENTS[found.change.why],
            at=self.moment(found.at),
            lot=name,
            mass=self.wording.amount(mass, 1),
            on_hand=self.wording.amount(held, 1),
        )
        return line if found.change.weighed else f"{line} {self.say(RecordKey.STOCK_UNWEIGHED)}"

    def _odd(self, found: RateFound, row: int) -> str:
        sure = self.wording.amount(Measure(value=min(found.chances.get(row, 0.0) * 100, SUREST), unit="%"), 0)
        return self.say(RecordKey.ROW_ODD, row=str(row), rate=self.rough(found.rows[row]), sure=sure)

    # ---- emergencies

    def alarm(self, found: EmergencyAsked) -> str:
        """When whom to call was asked, in what words, and what was handled."""
        known = ((RecordKey.PRODUCT_NAME, found.product), (RecordKey.REGISTRATION_NUMBER, found.registration))
        what = [self.say(RecordKey.ELEMENT, name=self.say(key), value=value) for key, value in known if value]
        with_ = "".join(f", {one}" for one in what)
        return self.say(RecordKey.EMERGENCY_AT, at=self.moment(found.at), heard=found.heard, what=with_)

    # ---- what to scout

    def stretch(self, one: SuspectStretch) -> str:
        """A doubtful stretch in one line."""
        found = one.found
        return self.say(
            RecordKey.STOPPED if found.report is Report.STOPPED else RecordKey.HIGH,
            rows=self.wording.row_place(found.rows),
            since=self.moment(found.since),
            until=self.until(found.until, found.since),
            area=self.rough(found.area),
            length=self.rough(found.row_length),
            short=self.rough(found.short),
        )

    def scouting(
        self, records: Iterable[ShiftRecord], *, planters: bool = False, stopped_first: bool = False
    ) -> list[str]:
        """What to scout, by field and the latest first, or in front of all rows that stopped; with the planter where
        there are several; nothing for none."""
        found = [(record, one) for record in records for one in record.stretches]
        found.sort(key=lambda pair: pair[1].found.until, reverse=True)
        if stopped_first:
            found.sort(key=lambda pair: pair[1].found.report is not Report.STOPPED)
        fields = dict.fromkeys(one.fields for _, one in found)
        lines = []
        for field in fields:
            lines.append(self._field(field))
            lines += [
                f"{INDENT}{self.stretch(one)}{f' ({record.conversation})' if planters else ''}"
                for record, one in found
                if one.fields == field
            ]
        return [*lines, self.wording.say(HouseKey.SHIFT_NO_SECOND)] if lines else []

    def _field(self, names: Sequence[str]) -> str:
        return self.say(RecordKey.FIELD, field=", ".join(names)) if names else self.say(RecordKey.NAMELESS_FIELD)


def account(language: Language, zone: tzinfo, system: System = System.US) -> RecordReport:
    """Raises DefinitionError where a file of texts is wrong."""
    return RecordReport(RecordTexts.load(), language, zone, system)
