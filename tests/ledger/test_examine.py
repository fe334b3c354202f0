"""The examination finds what our own rules forbid, were it ever to happen."""

from __future__ import annotations

from datetime import date

import pytest
from sqlalchemy import text

from labeler.catalog.model import Product
from labeler.ledger.assign import Batch, assign_many
from labeler.ledger.backup import examine
from labeler.ledger.store import Ledger

DAY = date(2026, 11, 25)


@pytest.mark.parametrize(
    ("harm", "rule"),
    [
        ("UPDATE days SET last_number = 9", "ledger-gap"),
        ("UPDATE lots SET code = '263290014' WHERE number = 1", "ledger-code"),
        ("UPDATE lots SET number = 17 WHERE number = 2", "ledger-gap"),
        (
            "INSERT INTO moves (lot_id, kind, dealer, dealer_folded, count, change, moved, slip,"
            " note, at, who) VALUES (1, 'ship', 'x', 'x', 99, -99, '2026-11-25', 's', '',"
            " '2026-11-25', 'x')",
            "ledger-below-nought",
        ),
    ],
)
def test_harm_done_by_hand_is_found(ledger: Ledger, melon: Product, harm: str, rule: str) -> None:
    assign_many(ledger, [Batch(melon, 12, DAY)] * 3)
    assert examine(ledger) == ()
    with ledger.engine.begin() as connection:
        if connection.dialect.name == "sqlite":
            connection.execute(text("DROP TRIGGER lots_no_UPDATE"))
        else:
            connection.execute(text("ALTER TABLE lots DISABLE TRIGGER lots_no_change"))
        connection.execute(text(harm))
    assert [finding.rule for finding in examine(ledger)] == [rule]


def test_a_row_that_refers_to_nothing_is_found(ledger: Ledger) -> None:
    if ledger.file is None:
        pytest.skip("a server sees to its references itself")
    with ledger.engine.connect() as connection:
        connection.exec_driver_sql("COMMIT")
        connection.exec_driver_sql("PRAGMA foreign_keys = OFF")
        connection.exec_driver_sql("INSERT INTO voids VALUES (77, 'why', '2026-11-25', 'x')")
        connection.exec_driver_sql("PRAGMA foreign_keys = ON")
    assert [finding.rule for finding in examine(ledger)] == ["ledger-torn-row"]
