"""Old ledgers open in new programs; new ledgers are refused by old ones; nothing by halves."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import Connection, inspect, select, text

from labeler.findings import LabelerError
from labeler.ledger import open as migrations
from labeler.ledger.backup import examine
from labeler.ledger.lots import find, list_lots, snapshot_of
from labeler.ledger.open import STEPS, Step, is_current, migrate, open_ledger
from labeler.ledger.runs import layout_of, open_sheet, past_runs
from labeler.ledger.schema import metadata, steps
from labeler.ledger.ship import on_hand, slip
from labeler.ledger.store import Ledger, entries
from labeler.ledger.trace import trace
from labeler.ledger.weigh import weigh_ins

VECTOR = Path(__file__).parent / "vectors" / "ledger-0001.sqlite"


def test_a_ledger_of_the_first_version_still_opens(folder: Path) -> None:
    shutil.copy(VECTOR, folder / "ledger.sqlite")
    with open_ledger(folder) as ledger:
        lot, spare = list_lots(ledger)
        assert (lot.code, lot.made, lot.count) == ("263290013", date(2026, 11, 25), 12)
        assert lot.note == "first of all"
        assert spare.void
        assert spare.void.why == "wrong colour"
        assert snapshot_of(ledger, lot).sku == "RV-38-40-MLN"
        assert [each.judgement.verdict for each in weigh_ins(ledger, lot.code)] == ["pass"]
        (run,) = past_runs(ledger, lot=lot.code)
        assert (run.count, run.stock, run.printer) == (12, "letter-3x10", "laser")
        kept = layout_of(ledger, run.layout_fingerprint)
        assert kept
        assert kept.files == {"bag-strip.xml.jinja": b"<piece/>"}
        assert open_sheet(ledger, "letter-3x10").next_free == 18
        assert [moved.count for moved in slip(ledger, "parcel 1")] == [6]
        assert on_hand(ledger, lot.code) == 6
        (story,) = trace(ledger, "hk 2291").stories
        assert (story.lot, story.labels, story.on_hand) == (lot.code, 12, 6)
        assert len(entries(ledger)) == 6
        assert examine(ledger) == ()


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("HK-2219", "HK-2291"), ("Herron Point Outfiters", "Heron Point Outfitters"),
     ("RV-38-40-MLM", "RV-38-40-MLN")],
)  # fmt: skip
def test_names_of_an_old_ledger_are_found_when_mistyped(
    folder: Path, typed: str, meant: str
) -> None:
    shutil.copy(VECTOR, folder / "ledger.sqlite")
    with open_ledger(folder) as ledger, pytest.raises(LabelerError) as error:
        trace(ledger, typed)
    assert error.value.findings[0].hint == f"Nearest names in the ledger: {meant}"


def test_the_steps_make_the_tables_that_the_program_reads(ledger: Ledger) -> None:
    with ledger.engine.connect() as connection:
        look = inspect(connection)
        assert set(look.get_table_names()) == set(metadata.tables)
        for table in metadata.tables.values():
            made = {column["name"]: column for column in look.get_columns(table.name)}
            assert list(made) == [column.name for column in table.columns]
            for column in table.columns:
                assert made[column.name]["nullable"] is bool(column.nullable), column
                kind = column.type.compile(connection.dialect)
                assert made[column.name]["type"].compile(connection.dialect) == kind, column
            keys = look.get_pk_constraint(table.name)["constrained_columns"]
            assert keys == [column.name for column in table.primary_key]
            points_to = {key["referred_table"] for key in look.get_foreign_keys(table.name)}
            assert points_to == {key.column.table.name for key in table.foreign_keys}


def test_each_step_is_recorded_once(ledger: Ledger) -> None:
    names = ledger.read(lambda connection: list(connection.scalars(select(steps.c.name))))
    assert names == [step.name for step in STEPS]
    assert [step.name for step in STEPS] == sorted(step.name for step in STEPS)


def test_a_ledger_newer_than_the_program_is_refused(where: str) -> None:
    with open_ledger(where) as ledger:
        ledger.write(
            lambda connection: connection.execute(
                text("INSERT INTO ledger_steps VALUES ('0099-moulds', '2031-05-04 00:00:00')")
            )
        )
    with pytest.raises(LabelerError) as error:
        open_ledger(where)
    (finding,) = error.value.findings
    assert finding.rule == "ledger-newer"
    assert finding.message == "this ledger was last written by a newer version of the program"
    assert finding.found == "steps unknown here: 0099-moulds"
    assert "Install the newer version" in finding.hint


def test_somebody_elses_database_is_left_alone(ledger: Ledger, where: str) -> None:
    for lost, rule in (("ledger_steps", "ledger-damaged"), ("journal", "ledger-stranger")):
        with ledger.engine.begin() as connection:
            connection.execute(text(f"DROP TABLE {lost}"))
        with pytest.raises(LabelerError) as error:
            open_ledger(where)
        assert error.value.findings[0].rule == rule


def test_a_step_that_fails_leaves_the_ledger_before_it(ledger: Ledger) -> None:
    def half(connection: Connection) -> None:
        connection.execute(text("CREATE TABLE moulds (id INTEGER PRIMARY KEY)"))
        raise RuntimeError("the light went out")

    longer = (*STEPS, Step("0099-moulds", half))
    with pytest.raises(RuntimeError, match="the light went out"):
        ledger.write(lambda connection: migrate(connection, "here", longer))
    with ledger.engine.connect() as connection:
        assert not inspect(connection).has_table("moulds")
        assert is_current(connection, "here")


def test_a_later_step_is_applied_to_an_older_ledger(
    where: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    open_ledger(where).close()

    def moulds(connection: Connection) -> None:
        connection.execute(text("CREATE TABLE moulds (id INTEGER PRIMARY KEY)"))

    longer = (*STEPS, Step("0099-moulds", moulds))
    for name in ("migrate", "is_current"):
        whole = getattr(migrations, name)
        monkeypatch.setattr(
            f"labeler.ledger.open.{name}",
            lambda connection, place, whole=whole: whole(connection, place, longer),
        )
    with open_ledger(where) as ledger:
        assert ledger.read(lambda connection: inspect(connection).has_table("moulds"))
        assert ledger.read(lambda connection: is_current(connection, "here", longer))


def test_a_code_unknown_to_the_old_ledger_is_near_one_it_has(folder: Path) -> None:
    shutil.copy(VECTOR, folder / "ledger.sqlite")
    with open_ledger(folder) as ledger, pytest.raises(LabelerError) as error:
        find(ledger, "263290031")
    assert "263290013" in error.value.findings[0].hint
