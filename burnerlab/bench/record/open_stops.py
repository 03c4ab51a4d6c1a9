"""Which stops of a record stand, for whom, and which releases ended the others."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, fields
from typing import Any

from burnerlab.bench.record.database import Record, in_words
from burnerlab.bench.record.entry import InputText, Release, ReleaseRecord, TestRecord
from burnerlab.bench.stop import StopNotice, stop_rows, worst_first
from burnerlab.quantity.outputs import output
from burnerlab.tables.problem import Problem, UserError

STOP_COLUMNS = {
    "id": "stop",
    "scope": "scope",
    "signal": "signal",
    "heading": "heading",
    "do_first": "do_first",
    "then": "do_then",
    "why": "why",
}
"""Field of a notice to the column that holds it."""
ENDED_STOPS = "ended_stops"  # input of a corrected entry: the stops that it ends, as a release names them
RELEASE_COLUMNS = tuple(field.name for field in fields(Release) if field.name != "stops")
ANOTHER_SUPPLY = "another supply:"  # in the words of a place, before the name of its gas supply
POINTING = frozenset(
    [
        *(
            "here",
            "same",
            "this",
            "ditto",
            "thesame",
            "sameashere",
            "asbefore",
            "sameone",
            "thisone",
            "samegas",
        ),
        *("sameplace", "thisplace", "thesameplace", "samesupply", "thissupply", "thesamesupply"),
    ]
)  # words that point to the place or the supply where one stands, by letters and digits alone
FILLS_THE_ROOM = ("odour", "leak-suspected", "co-alarm")  # stops of a gas that spreads beyond one bench
FIX = "burnerlab record stops lists them"
OPEN = (
    "SELECT s.id, t.uid, t.serial, t.model, t.tester, t.recorded_at, coalesce(b.place, ''), "
    f"{', '.join(f's.{column}' for column in STOP_COLUMNS.values())}, t.id "
    "FROM stops s JOIN tests t ON t.id = s.test_id LEFT JOIN before_lighting b ON b.test_id = t.id "
    "WHERE NOT EXISTS (SELECT 1 FROM released_stops r WHERE r.stop_id = s.id) {more} ORDER BY s.id DESC"
)


ROOMS = ("another room", "outdoors")  # of a place that is apart from one whose gas may fill its room


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchPlace:
    """Where a unit is tested, with what was stated of that place while another place was held."""

    place: str = ""
    apart_place: str = ""  # the place the statement is of
    apart_room: str = ""  # one of ``ROOMS``
    apart_held: str = ""  # places that are shut off and ventilated
    apart_by: str = ""
    apart_at: str = ""  # ISO 8601

    @classmethod
    def of(cls, entry: TestRecord) -> BenchPlace:
        """That of an entry, by its own inputs."""
        names = {each.name for each in fields(cls)}
        texts = {one.name: one.text for one in entry.test.inputs if one.name in names}
        return cls(**texts | {"place": entry.place})

    @property
    def statement(self) -> tuple[InputText, ...]:
        """What was stated of it, as inputs of an entry; the place itself is an answer before lighting.

        >>> BenchPlace(place="Yard", apart_room="outdoors").statement
        (InputText(name='apart_room', text='outdoors'),)
        """
        texts = {each.name: getattr(self, each.name) for each in fields(self) if each.name != "place"}
        return tuple(InputText(name=name, text=text) for name, text in texts.items() if text)

    def is_apart(self, stop: str, since: str) -> bool:
        """Whether it is stated to be apart from a stop; true of one whose gas stays at its bench.

        stop : id of the notice; since : the moment it was raised, ISO 8601. A statement says nothing of a later stop.

        >>> yard = BenchPlace(place="Yard, another supply: tank")
        >>> yard.is_apart("overfire", ""), yard.is_apart("odour", "")
        (True, False)
        """
        if stop not in FILLS_THE_ROOM:
            return True
        place, stated = place_and_supply(self.place), place_and_supply(self.apart_place)
        said = self.apart_room in ROOMS and bool(self.apart_held) and bool(self.apart_by)
        return all(place) and place == stated and said and self.apart_at >= since

    def is_stopped_by(self, stop: str, stop_place: str, since: str) -> bool:
        """Whether a stop of the whole bench, raised at ``stop_place``, stands here."""
        return same_supply(self.place, stop_place) or not self.is_apart(stop, since)


STATEMENTS = frozenset(each.name for each in fields(BenchPlace)) - {"place"}
"""Inputs of an entry that state that its place is apart."""
ANY_PLACE = BenchPlace()
"""A place of which nothing is known: every stop of a bench stands there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenStop:
    """A stop that no release has ended yet."""

    uid: str = field(metadata=output("stop"))  # of its entry, a hyphen, its id: what a release names
    notice: StopNotice = field(metadata=output("notice", is_part=True))
    entry: str = field(metadata=output("entry"))  # uid of the test that raised it
    serial: str = field(metadata=output("raised on"))
    model: str = field(metadata=output("model"))
    tester: str = field(metadata=output("tester"))
    recorded_at: str = field(metadata=output("recorded at"))
    place: str = field(metadata=output("place"))  # of the bench; "" when not recorded

    @property
    def is_of_the_bench(self) -> bool:
        """Whether it stands for every unit on this supply."""
        return self.notice.scope == "bench"

    def stands_for(self, serial: str, place: BenchPlace = ANY_PLACE) -> bool:
        """Whether this unit, at this bench, may not be tested.

        A stop of the bench stands at every place but one whose words name another gas supply. One whose gas may
        fill the room stands there too, unless it is stated that the place is apart.
        """
        if serial_key(self.serial) == serial_key(serial):
            return True
        return self.is_of_the_bench and place.is_stopped_by(self.notice.id, self.place, self.recorded_at)


def serial_key(text: str) -> str:
    """A serial number as a stop holds it, by letters and digits alone: typed with other dashes it is the same unit.

    >>> serial_key("R6-0015") == serial_key("r6 0015") == serial_key("R60015")
    True
    """
    return place_key(text) or text.strip().casefold()


def place_key(text: str) -> str:
    """A place as places are compared, by letters and digits alone.

    >>> place_key("Bench 2") == place_key("bench-2") == place_key("Bench2")
    True
    """
    return "".join(letter for letter in text.casefold() if letter.isalnum())


def on_another_supply(place: str, supply: str) -> str:
    """The words of a place whose gas comes from another supply than that of a stopped bench.

    >>> on_another_supply("Bench 3", "ring main B")
    'Bench 3, another supply: ring main B'
    """
    return f"{place.strip()}, {ANOTHER_SUPPLY} {supply.strip()}"


def same_supply(first: str, second: str) -> bool:
    """Whether a stop of the bench at ``there`` stands ``here``: always, unless here is said to be on another supply.

    >>> same_supply("B2", "Bench 2"), same_supply("Bench 3, another supply: ring main B", "Bench 2")
    (True, False)
    >>> same_supply("here, another supply: same", "")
    True
    """
    at, supply = place_and_supply(first)
    stopped_at, stopped = place_and_supply(second)
    return not supply or {at, supply} & POINTING != set() or supply == stopped or at == stopped_at


def place_and_supply(text: str) -> tuple[str, str]:
    """A place and its other supply, "" where none is entered, each by letters and digits alone.

    >>> place_and_supply("Bench 3, another supply: Ring main B")
    ('bench3', 'ringmainb')
    """
    at, _, supply = text.casefold().partition(ANOTHER_SUPPLY)
    return place_key(at), place_key(supply)


def open_stops(
    record: Record, *, serial: str | None = None, place: BenchPlace = ANY_PLACE
) -> tuple[OpenStop, ...]:
    """Stops that neither a release nor the correction of a slip ended, the worst first, of a kind the newest first.

    serial : of the unit that is to be tested: its own stops and those of the whole bench; None for every stop
    place : where it is tested, with what was stated of it
    """
    with in_words(record.path):
        rows = record.connection.execute(OPEN.format(more="")).fetchall()
        rows = [row for row in rows if not _is_corrected(record.connection, row[-1], f"{row[1]}-{row[7]}")]
    order = {name: place for place, name in enumerate(stop_rows())}
    every = sorted((_open_stop(row) for row in rows), key=lambda stop: order.get(stop.notice.id, -1))
    return tuple(stop for stop in every if serial is None or stop.stands_for(serial, place))


def _is_corrected(connection: sqlite3.Connection, test: int, uid: str) -> bool:
    """Whether a correction of an entry, or of its correction, ends a stop of it."""
    ask = "SELECT c.id, i.text FROM tests c LEFT JOIN inputs i ON i.test_id = c.id AND i.name = ? WHERE c.corrects = ?"
    seen = {test}
    while (row := connection.execute(ask, (ENDED_STOPS, test)).fetchone()) is not None and row[0] not in seen:
        if uid in (row[1] or "").split():
            return True
        test = row[0]
        seen.add(test)
    return False


def _open_stop(row: tuple[Any, ...]) -> OpenStop:
    notice = StopNotice(**dict(zip(STOP_COLUMNS, row[7:-1], strict=True)))
    return OpenStop(
        uid=f"{row[1]}-{notice.id}",
        notice=notice,
        entry=row[1],
        serial=row[2],
        model=row[3],
        tester=row[4],
        recorded_at=row[5],
        place=row[6],
    )


def notices(stops: Iterable[OpenStop]) -> tuple[StopNotice, ...]:
    """What to say of open stops: each notice once, the worst first."""
    return worst_first(stop.notice for stop in stops)


def stop_number(connection: sqlite3.Connection, uid: str, *, is_open: bool = True) -> int:
    """The row of the stop whose uid starts so. Raises UserError when there is none, or more than one.

    is_open : refuse one that is released already; a release taken in from another bench may end it a second time
    """
    entry, _, name = uid.strip().lower().partition("-")
    rows = []
    if entry and not set(entry) - set("0123456789abcdef"):
        ask = (
            "SELECT s.id, EXISTS (SELECT 1 FROM released_stops r WHERE r.stop_id = s.id) FROM stops s "
            "JOIN tests t ON t.id = s.test_id WHERE t.uid >= ? AND t.uid < ? AND (s.stop = ? OR ? = '') LIMIT 3"
        )
        rows = connection.execute(ask, (entry, entry + "g", name, name)).fetchall()
    if not rows:
        raise UserError(Problem("there is no such stop", value=uid, key="stop", fix=FIX))
    if len(rows) > 1:
        fix = "name the entry, a hyphen and the stop, such as 3fa8c012-soot"
        raise UserError(Problem("fits more than one stop", value=uid, key="stop", fix=fix))
    number, is_released = rows[0]
    if is_released and is_open:
        raise UserError(Problem("is released already", value=uid, key="stop", fix=FIX))
    return int(number)


def alike(connection: sqlite3.Connection, uid: str) -> tuple[str, ...]:
    """The uid of an open stop, and of the same stop of the same unit in earlier and later corrections of its entry."""
    number = stop_number(connection, uid)
    stop, test, serial = connection.execute(
        "SELECT s.stop, t.id, t.serial FROM stops s JOIN tests t ON t.id = s.test_id WHERE s.id = ?",
        (number,),
    ).fetchone()
    same, stops = OPEN.format(more="AND t.id = ? AND s.stop = ? AND t.serial = ?"), []
    for correction in _corrections(connection, test):
        stops += connection.execute(same, (correction, stop, serial)).fetchall()
    return tuple(f"{row[1]}-{stop}" for row in stops)


def _corrections(connection: sqlite3.Connection, test: int) -> Iterator[int]:
    """The numbers of an entry, of those it corrects and of those that correct it."""
    yield test
    for ask in ("SELECT corrects FROM tests WHERE id = ?", "SELECT id FROM tests WHERE corrects = ?"):
        numbers, row = {test}, connection.execute(ask, (test,)).fetchone()
        while row is not None and row[0] is not None and row[0] not in numbers:
            yield row[0]
            numbers.add(row[0])
            row = connection.execute(ask, (row[0],)).fetchone()


def all_releases(record: Record) -> Iterator[ReleaseRecord]:
    """Every release in the order it was recorded."""
    names = ", ".join(RELEASE_COLUMNS)
    with in_words(record.path):
        rows = record.connection.execute(
            f"SELECT id, uid, recorded_at, sha256, {names} FROM releases ORDER BY id"
        ).fetchall()
        for row in rows:
            stops = record.connection.execute(
                "SELECT t.uid || '-' || s.stop FROM released_stops r JOIN stops s ON s.id = r.stop_id "
                "JOIN tests t ON t.id = s.test_id WHERE r.release_id = ? ORDER BY r.id",
                (row[0],),
            )
            release = Release(
                stops=tuple(uid for (uid,) in stops), **dict(zip(RELEASE_COLUMNS, row[4:], strict=True))
            )
            yield ReleaseRecord(number=row[0], uid=row[1], recorded_at=row[2], release=release, sha256=row[3])
