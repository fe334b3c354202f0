"""Which ledger belongs to a catalog folder, and what time it is at its bench."""

from __future__ import annotations

import datetime as dt
import os
import platform
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, nullcontext, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from labeler.catalog.model import LotBook
from labeler.catalog.structure import find_catalog, read_source
from labeler.files import kept
from labeler.findings import Finding, LabelerError, Place, listed, refusal, stop
from labeler.ledger.file import is_address, is_begun
from labeler.tomlfile import TomlFile

if TYPE_CHECKING:
    from labeler.ledger.store import Ledger

LEDGER_VARIABLE = "LABELER_LEDGER"
"""The environment's name for a ledger's address; it comes before the catalog's."""


@dataclass(frozen=True, slots=True)
class LedgerLocation:
    """Where a folder's lots are kept, and the bench's clock.

    Attributes:
        where: the folder of a file, or a server's address.
        named: whether the environment names it, and not the catalog's own folder.
        prefix: what lot codes begin with.
        zone: the bench's time zone; None for the computer's.
    """

    where: Path | str
    prefix: str = ""
    zone: str | None = None
    named: bool = False

    @property
    def begun(self) -> bool:
        """Whether there is a ledger, or what is left of one. A server is taken at its word.

        Raises:
            LabelerError: if the environment names a folder that has none. That is no ledger not
                yet begun but one that can't be reached: a share that is not mounted.
        """
        if isinstance(self.where, str) or is_begun(self.where):
            return True
        if self.named:
            there = self.where.is_dir()
            raise refusal(
                "ledger-missing",
                Place(file=str(self.where)),
                f"{LEDGER_VARIABLE} says that the ledger is in this folder, "
                f"{'and it holds none' if there else 'and there is no such folder'}",
                hint="See whether the shared folder is connected. Only if there has never been "
                "a ledger in it: labeler lot begin",
            )
        return False

    @property
    def workstation(self) -> str:
        """Whose started sheets these are: each bench that shares a server has its own."""
        return platform.node()[:100] if isinstance(self.where, str) else ""

    @contextmanager
    def opened(self, *, begin: bool = False) -> Iterator[Ledger]:
        """Open the ledger, see to runs whose command was killed, and close it in the end.

        Args:
            begin: whether to begin one where there is none.

        Raises:
            LabelerError: if it cannot be opened; the finding says what to do.
        """
        from labeler.ledger.open import open_ledger
        from labeler.ledger.runs import settle

        with open_ledger(self.where, begin=self.begun or begin) as ledger:
            ledger.settled.extend(settle(ledger))
            yield ledger

    @contextmanager
    def opened_if_begun(self) -> Iterator[Ledger | None]:
        """Open the ledger as `opened` does; give None where there is none.

        Raises:
            LabelerError: if it cannot be opened, or the one that is named is not there.
        """
        with self.opened() if self.begun else nullcontext() as ledger:
            yield ledger

    def begin(self) -> tuple[str, bool]:
        """Begin a ledger where there is none; return where it is, and whether there was none.

        Raises:
            LabelerError: if it cannot be opened.
        """
        from labeler.ledger.open import open_ledger

        new = isinstance(self.where, Path) and not is_begun(self.where)
        with open_ledger(self.where) as ledger:
            return ledger.where, new

    def today(self) -> dt.date:
        """Return the day it is at the bench."""
        return self.local(dt.datetime.now(dt.UTC)).date()

    def local(self, moment: dt.datetime) -> dt.datetime:
        """Return an instant as the bench's clock shows it, in UTC where its zone is none."""
        try:
            return moment.astimezone(ZoneInfo(self.zone) if self.zone else None)
        except (ValueError, OverflowError, OSError):  # the system's zone may be any text
            return moment.astimezone(dt.UTC)

    def begin_of(self, day: dt.date) -> dt.datetime:
        """Return the instant at which a day begins at the bench."""
        midnight = dt.datetime.combine(day, dt.time())
        try:
            if self.zone:
                return midnight.replace(tzinfo=ZoneInfo(self.zone)).astimezone(dt.UTC)
            return midnight.astimezone(dt.UTC)
        except (ValueError, OverflowError, OSError):  # the first day and the last that there are
            return midnight.replace(tzinfo=dt.UTC)

    def clock(self, moment: dt.datetime) -> str:
        """Return an instant on the bench's clock, with its zone, and in UTC."""
        here, there = self.local(moment), moment.astimezone(dt.UTC)
        if not here.utcoffset():
            return f"{here:%Y-%m-%d %H:%M} UTC"
        utc = f"{there:%H:%M}" if there.date() == here.date() else f"{there:%Y-%m-%d %H:%M}"
        return f"{here:%Y-%m-%d %H:%M %Z} ({utc} UTC)"


def clocks(location: LedgerLocation, moments: Sequence[dt.datetime]) -> list[str]:
    """Return instants on the bench's clock to be told apart: with seconds where minutes do not.

    Args:
        location: which knows the bench's zone.
        moments: with their zone.
    """
    here = [location.local(each) for each in moments]
    minutes = [f"{each:%Y-%m-%d %H:%M}" for each in here]
    return [
        f"{each:%Y-%m-%d %H:%M:%S}" if minutes.count(minute) > 1 else minute
        for each, minute in zip(here, minutes, strict=True)
    ]


def ledger_location(folder: Path) -> LedgerLocation:
    """Return where the lots of a catalog folder are kept.

    Only the table ``[ledger]`` of the catalog is looked at: a hook that broke must be traced
    whatever else is wrong in the file.

    Raises:
        LabelerError: if the catalog cannot be read and nothing else says where the ledger is, or
            the table is at fault.
    """
    given = os.environ.get(LEDGER_VARIABLE, "").strip()
    return kept(("ledger", folder, given), lambda: _location(folder, given))


def _location(folder: Path, given: str) -> LedgerLocation:
    beside = LedgerLocation(folder)
    try:
        find_catalog(folder)
        source = read_source(folder)
    except LabelerError:
        if not given and not beside.begun:
            raise
        table = LotBook()
    else:
        table = _table(source)
    where: Path | str = given or table.url or folder
    if isinstance(where, str) and not is_address(where):
        where = Path(where)
    return LedgerLocation(where, table.prefix, table.zone, bool(given))


def sku_meant(
    folder: Path, ledger: Ledger, words: str, said: list[Finding], strict: bool = False
) -> str:
    """Return the SKU of the one product that words mean; the words themselves, if there is none.

    Products that are sold no more count as well: their lots are still about. The ledger answers
    whatever is wrong in the catalog.

    Args:
        folder: the catalog.
        ledger: an open ledger.
        words: of its pattern, colour, weight and hook.
        said: gets a note of the product that was found.
        strict: whether to refuse words that fit none.

    Raises:
        LabelerError: if several products are so called: none is guessed at.
    """
    from labeler.catalog.read import examine, sku_by_name  # loads what reads spreadsheets
    from labeler.ledger.lots import products_of

    catalog, _ = examine(folder)
    known = [*products_of(ledger), *((*catalog.products, *catalog.gone) if catalog else ())]
    try:
        return sku_by_name(words, known, said, strict)
    except LabelerError as error:
        raise with_lots(error, words, ledger) from None


def with_lots(error: LabelerError, name: str, ledger: Ledger | None) -> LabelerError:
    """Say of a product that is not on sale which lots print it; of a lot code that it is one.

    Args:
        error: what was said of it.
        name: as typed.
        ledger: where there is one.
    """
    if ledger is None:
        return error
    from labeler.ledger.lots import find, list_lots

    def say(finding: Finding) -> Finding:
        sku = finding.place.piece if finding.rule == "sku-retired" else ""
        if sku and (lots := list_lots(ledger, sku=sku)):
            made = listed([f"--lot {lot.code} (made {lot.made})" for lot in lots])
            return replace(finding, hint=f"Its lots still print it as it was: {made}.")
        if finding.rule == "sku-unknown":
            with suppress(LabelerError):
                code = find(ledger, name).code
                return replace(finding, message="this is a lot code where a product is meant",
                               hint=f"Where a lot will do: {code}, or --lot {code}.")  # fmt: skip
        return finding

    return LabelerError(map(say, error.findings))


def _table(source: TomlFile) -> LotBook:
    try:
        return LotBook.model_validate(source.data.get("ledger", {}))
    except ValidationError as error:
        raise LabelerError(
            stop("ledger-table", source.place(("ledger", *fault["loc"])), str(fault["msg"]))
            for fault in error.errors(include_url=False)
        ) from error
