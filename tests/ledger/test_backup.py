"""A backup is whole, made while others write, and never replaces what is no backup."""

from __future__ import annotations

import threading
from datetime import date
from pathlib import Path

import pytest

from labeler.catalog.model import Product
from labeler.findings import LabelerError
from labeler.ledger.assign import Batch, assign, assign_many
from labeler.ledger.backup import backup, examine
from labeler.ledger.lots import list_lots
from labeler.ledger.open import open_ledger

DAY = date(2026, 11, 25)


def restore(copy: Path, folder: Path) -> None:
    folder.mkdir()
    copy.rename(folder / "ledger.sqlite")


def test_a_backup_put_in_place_is_the_ledger(folder: Path, tmp_path: Path, melon: Product) -> None:
    with open_ledger(folder) as ledger:
        lots = assign_many(ledger, [Batch(melon, 12, DAY)] * 5)
        copy = backup(ledger, tmp_path / "monday.sqlite")
        assign(ledger, Batch(melon, 12, DAY))
    restore(copy, tmp_path / "again")
    with open_ledger(tmp_path / "again") as ledger:
        assert list_lots(ledger) == lots
        assert examine(ledger) == ()


def test_a_backup_is_one_file_and_leaves_nothing_beside_it(folder: Path, tmp_path: Path) -> None:
    place = tmp_path / "stick"
    place.mkdir()
    with open_ledger(folder) as ledger:
        backup(ledger, place / "monday.sqlite")
    assert [file.name for file in place.iterdir()] == ["monday.sqlite"]


@pytest.mark.siege
def test_a_backup_made_while_another_bench_writes_is_consistent(
    folder: Path, tmp_path: Path, melon: Product
) -> None:
    stop = threading.Event()

    def keep_writing() -> None:
        with open_ledger(folder) as bench:
            while not stop.is_set():
                assign(bench, Batch(melon, 12, DAY))

    open_ledger(folder).close()
    writer = threading.Thread(target=keep_writing)
    writer.start()
    try:
        with open_ledger(folder) as ledger:
            for at in range(5):
                before = len(list_lots(ledger))
                copy = backup(ledger, tmp_path / f"{at}.sqlite")
                after = len(list_lots(ledger))
                restore(copy, tmp_path / f"again {at}")
                with open_ledger(tmp_path / f"again {at}") as kept:
                    assert before <= len(list_lots(kept)) <= after
                    assert examine(kept) == ()
    finally:
        stop.set()
        writer.join()


@pytest.mark.parametrize("mode", [0o600, 0o640])
def test_nobody_reads_a_backup_who_may_not_read_the_ledger(
    folder: Path, tmp_path: Path, mode: int
) -> None:
    with open_ledger(folder) as ledger:
        assert ledger.file is not None
        ledger.file.chmod(mode)
        copy = backup(ledger, tmp_path / "monday.sqlite")
        assert copy.stat().st_mode & 0o777 == mode
        copy.chmod(0o644)
        assert backup(ledger, copy).stat().st_mode & 0o777 == mode


def test_an_older_backup_is_replaced(folder: Path, tmp_path: Path, melon: Product) -> None:
    with open_ledger(folder) as ledger:
        copy = backup(ledger, tmp_path / "nightly.sqlite")
        old = copy.read_bytes()
        assign(ledger, Batch(melon, 12, DAY))
        backup(ledger, copy)
    assert copy.read_bytes() != old


def test_nothing_else_is_replaced(folder: Path, tmp_path: Path) -> None:
    catalog = folder / "catalog.toml"
    catalog.write_text("[maker]", encoding="utf-8")
    with open_ledger(folder) as ledger:
        for file in (catalog, folder / "ledger.sqlite", folder, Path()):
            with pytest.raises(LabelerError) as error:
                backup(ledger, file)
            assert error.value.findings[0].rule == "backup-in-the-way"
        with pytest.raises(LabelerError) as error:
            backup(ledger, tmp_path / "nowhere" / "monday.sqlite")
        assert error.value.findings[0].rule == "backup-folder"
    assert catalog.read_text(encoding="utf-8") == "[maker]"


def test_a_damaged_ledger_does_not_replace_a_good_backup(
    folder: Path, tmp_path: Path, melon: Product
) -> None:
    with open_ledger(folder) as ledger:
        assign_many(ledger, [Batch(melon, 12, DAY)] * 50)
        copy = backup(ledger, tmp_path / "monday.sqlite")
    good, file = copy.read_bytes(), folder / "ledger.sqlite"
    whole = file.read_bytes()
    file.write_bytes(whole[: len(whole) - 8192] + b"\x7f" * 8192)
    with open_ledger(folder) as ledger, pytest.raises(LabelerError) as error:
        backup(ledger, copy)
    assert error.value.findings[0].rule == "ledger-damaged"
    assert copy.read_bytes() == good


def test_a_ledger_on_a_server_says_how_it_is_copied(database: str, tmp_path: Path) -> None:
    with open_ledger(database) as ledger, pytest.raises(LabelerError) as error:
        backup(ledger, tmp_path / "monday.dump")
    hint = error.value.findings[0].hint
    copied = f"Run: pg_dump --format=custom --file={tmp_path / 'monday.dump'} {database}"
    assert hint == f"pg_restore --clean --if-exists brings a copy back. {copied}"
