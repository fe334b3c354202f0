"""The ledger's tables as today's program reads them.

What makes them in a database are the steps in `open`, never this page; a test holds the two
together.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, TypeVar

from sqlalchemy import (
    Column,
    Connection,
    Date,
    DateTime,
    Dialect,
    ForeignKey,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
)

if TYPE_CHECKING:
    from sqlalchemy.dialects import postgresql, sqlite
    from sqlalchemy.schema import SchemaItem

Row = dict[str, Any]
Value = TypeVar("Value")


class Moment(TypeDecorator[datetime]):
    """An instant, kept in UTC and given back with its zone."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Turn an instant of any zone to UTC; SQLite keeps it without the zone."""
        if value is None:
            return None
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Give the instant its zone back."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Json(TypeDecorator[Any]):
    """Plain values, kept as text that any program can read."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> str:
        """Write the same text for the same value, so that texts can be compared."""
        return as_text(value)

    def process_result_value(self, value: str | None, dialect: Dialect) -> Any:
        """Read it back."""
        return None if value is None else json.loads(value)


def as_text(value: Any) -> str:
    """Return plain values as JSON, always the same text for the same value."""
    text = json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return text.encode("utf-8", "backslashreplace").decode()  # half letters, of a file's name


def insert(connection: Connection, table: Table) -> sqlite.Insert | postgresql.Insert:
    """Return an insertion that can say what to do where a row with its key is there already.

    Only the dialect that is spoken is loaded: the server's is for the few who share a ledger.
    """
    if connection.dialect.name == "sqlite":
        from sqlalchemy.dialects import sqlite

        return sqlite.insert(table)
    from sqlalchemy.dialects import postgresql

    return postgresql.insert(table)


def keep_once(connection: Connection, table: Table, rows: Row | Sequence[Row]) -> None:
    """Insert rows unless one with the same key is there, whoever else does so at this moment."""
    connection.execute(insert(connection, table).on_conflict_do_nothing(), rows)


_MOST_AT_ONCE = 10_000
"""SQLite takes 32,766 values in one statement: sqlite.org/limits.html, 9."""


def in_parts(values: Sequence[Value]) -> Iterator[Sequence[Value]]:
    """Yield values in parts that a statement takes."""
    for at in range(0, len(values), _MOST_AT_ONCE):
        yield values[at : at + _MOST_AT_ONCE]


metadata = MetaData()


def _table(name: str, *parts: SchemaItem) -> Table:
    return Table(name, metadata, *parts)


def _number() -> Column[int]:
    return Column("id", Integer, primary_key=True)


def _lot(*, may_lack: bool = False, key: bool = False) -> Column[int]:
    return Column("lot_id", ForeignKey("lots.id"), nullable=may_lack, primary_key=key)


def _fingerprint() -> Column[str]:
    return Column("fingerprint", String(64), primary_key=True)


def _text(name: str, size: int | None = None, words: str = ".*") -> Column[str]:
    info = {"words": f"(?s:{words})"}
    return Column(name, String(size) if size else Text, nullable=False, info=info)


def _json(name: str, *kinds: type) -> Column[Any]:
    return Column(name, Json, nullable=False, info={"kinds": kinds or (object,)})


def _whole(name: str) -> Column[int]:
    return Column(name, Integer, nullable=False)


def _at() -> Column[datetime]:
    return Column("at", Moment, nullable=False)


def _stamp() -> tuple[Column[datetime], Column[str]]:
    return _at(), _text("who")


snapshots = _table(
    "snapshots",
    _fingerprint(),
    _text("sku", 40),
    _text("name"),
    Column("gtin", String(14)),
    _json("product", dict),
)

days = _table("days", Column("made", Date, primary_key=True), _whole("last_number"))

lots = _table(
    "lots",
    _number(),
    Column("code", String(20), nullable=False, unique=True),
    Column("made", Date, nullable=False),
    _whole("number"),
    _text("sku", 40),
    _whole("count"),
    Column("snapshot", ForeignKey("snapshots.fingerprint"), nullable=False),
    _text("catalog", 64),
    _text("note"),
    Column("opened_at", Moment, nullable=False),
    _text("opened_by"),
    _whole("untraced"),
    UniqueConstraint("made", "number"),
)

other_names = _table(
    "other_names",
    _lot(key=True),
    Column("folded", String(200), primary_key=True),
    _text("name", 200),
)

materials = _table(
    "materials",
    _lot(key=True),
    Column("kind", String(100), primary_key=True),
    Column("supplier_lot", String(200), primary_key=True),
    _text("folded", 200),
)

contents = _table(
    "contents",
    _number(),
    _lot(),
    Column("part_id", ForeignKey("lots.id"), nullable=False),
    _whole("count"),
)

_BYTEWISE = String(200).with_variant(String(200, collation="C"), "postgresql")

names = _table(
    "names",
    Column("folded", _BYTEWISE, primary_key=True),
    Column("backwards", _BYTEWISE, nullable=False),
    _text("name", 200),
)

voids = _table("voids", _lot(key=True), _text("why"), *_stamp())

holds = _table("holds", _number(), _lot(), _whole("held"), _text("why"), *_stamp())

strikes = _table(
    "strikes",
    _number(),
    _lot(),
    _text("kind", 100),
    _text("supplier_lot", 200),
    _whole("struck"),
    *_stamp(),
)

weighings = _table(
    "weighings",
    _number(),
    _lot(),
    _text("label", 40, words=r".*\d.* (oz|g)"),
    _json("readings", list),
    _text("verdict", 12),
    _json("report", dict),
    *_stamp(),
    _whole("begins"),
    _whole("closed"),
    _text("why"),
)

files = _table("files", _fingerprint(), Column("data", LargeBinary, nullable=False))

layouts = _table("layouts", _fingerprint(), _text("name", 100), _json("files", dict))

runs = _table(
    "runs",
    _number(),
    _text("stock", 100),
    _text("printer", 100),
    _text("catalog", 64),
    _text("fonts", 64),
    _text("pdf", 64),
    _whole("sheets"),
    _json("findings", dict, list),
    _json("overrides", list),
    *_stamp(),
)

printed = _table(
    "printed",
    _number(),
    Column("run_id", ForeignKey("runs.id"), nullable=False),
    _text("kind", 20, words="bag|card|batch card"),
    _text("sku", 40),
    _lot(may_lack=True),
    Column("layout", ForeignKey("layouts.fingerprint"), nullable=False),
    _whole("count"),
    _text("cells", words=r"(\d[\d,-]*:\d[\d,-]* ?)*"),
)

open_sheets = _table(
    "open_sheets",
    _number(),
    _text("drawer", 100),
    _text("stock", 100),
    _whole("cells"),
    _json("used", list),
    Column("run_id", ForeignKey("runs.id")),
    *_stamp(),
    Column("plan_id", ForeignKey("plans.id")),
    Column("first_id", ForeignKey("open_sheets.id")),
)

plans = _table("plans", _number(), _text("bench", 100), _text("file"), _text("part"), *_stamp())

run_states = _table(
    "run_states",
    _number(),
    Column("plan_id", ForeignKey("plans.id")),
    Column("run_id", ForeignKey("runs.id")),
    _text("state", 10),
    _text("why"),
    *_stamp(),
)

moves = _table(
    "moves",
    _number(),
    _lot(),
    _text("kind", 10),
    _text("dealer", 200),
    _text("dealer_folded", 200),
    _whole("count"),
    _whole("change"),
    Column("moved", Date, nullable=False),
    _text("slip", 200),
    _text("note"),
    *_stamp(),
    _text("whom", 10),
    Column("takes_back", ForeignKey("moves.id")),
)

orders = _table(
    "orders",
    _number(),
    Column("number", String(20), nullable=False, unique=True),
    Column("taken", Date, nullable=False),
    _text("dealer", 200),
    _text("dealer_folded", 200),
    _text("whom", 10),
    *_stamp(),
)

order_readings = _table(
    "order_readings",
    _number(),
    Column("order_id", ForeignKey("orders.id"), nullable=False),
    _text("source", 64),
    _json("document", dict),
    *_stamp(),
)

cancels = _table(
    "cancels",
    Column("order_id", ForeignKey("orders.id"), primary_key=True),
    _text("why"),
    *_stamp(),
)

invoices = _table(
    "invoices",
    _number(),
    Column("number", String(20), nullable=False, unique=True),
    Column("order_id", ForeignKey("orders.id"), nullable=False),
    Column("slip", String(200), nullable=False, unique=True),
    _json("document", dict),
    *_stamp(),
)

requests = _table(
    "requests",
    Column("kind", String(20), primary_key=True),
    Column("key", String(200), primary_key=True),
    _text("ask", 64),
    _json("answer"),
)

journal = _table(
    "journal",
    _number(),
    *_stamp(),
    _text("what", 20),
    _lot(may_lack=True),
    _json("detail", dict),
)

steps = _table("ledger_steps", Column("name", String(100), primary_key=True), _at())
