"""Markets: what may be sold where, in words first; each verdict's rule and source behind it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from starlette.responses import Response

from labeler.app.markets import by_place, market_named, market_report
from labeler.catalog.read import readable
from labeler.desk.page import Ask, DeskPage, Faults, PageRoute
from labeler.desk.pages.figures import shown_jigs
from labeler.desk.pages.shop_jobs import day_asked
from labeler.disclosures.market_rules import shipped
from labeler.disclosures.rules import NO_LEGAL_ADVICE, code_meant
from labeler.disclosures.sale import MEANS, Status
from labeler.findings import LabelerError

_VERDICTS = {
    Status.BARRED: "May not be sold",
    Status.RESTRICTED: "May be sold, but not fished everywhere",
    Status.DISCLOSURE: "May be sold with a notice on the label",
    Status.NOT_HELD: "No rules of this place are held here",
    Status.NOTED: "May be sold; binding rules are noted",
    Status.FREE: "May be sold",
}

_NAMED = 12
"""Rows of a group that are named at once."""


def _markets(ask: Ask) -> Response:
    """Show place by place what may be sold there on a day."""
    typed = _typed(ask.request.query_params.multi_items())
    catalog, _ = readable(ask.folder)
    codes = dict.fromkeys(code for product in catalog.products for code in product.markets)
    sold = [market_named(code, shipped(), sold=True) for code in codes]
    try:
        report = market_report(
            ask.folder, typed.skus_asked, typed.places_asked, day_asked(typed.on)
        )  # fmt: skip
    except LabelerError as error:
        fields = {"market": "other", "on": "on", "market-unknown": "other"}
        fields |= {each.rule: "skus" for each in error.findings if each.rule.startswith("sku-")}
        faults = Faults(error.findings, fields)
        if not faults.by_field:
            raise
        return ask.shown("markets.html.jinja", faults, typed=typed, report=None, sold=sold)
    places = by_place(report)
    worst = [max(group.status.rank for group in groups) for _, groups in places]
    return ask.shown(
        "markets.html.jinja", typed=typed, report=report, places=places, sold=sold,
        verdicts=_VERDICTS, means=MEANS, named=_NAMED, linked=linked, advice=NO_LEGAL_ADVICE,
        barred=sum(rank == Status.BARRED.rank for rank in worst),
        **shown_jigs(catalog),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class MarketsForm:
    """What is asked, as it stands in the form: places that are ticked, the rest as typed."""

    place: tuple[str, ...]
    other: str
    skus: str
    on: str

    @property
    def places_asked(self) -> list[str]:
        """The places by their codes, or by the words that are none."""
        return [*self.place, *(code_meant(each) or each for each in _parted(self.other))]

    @property
    def skus_asked(self) -> list[str]:
        """What is to be held against them."""
        return _parted(self.skus)


def _parted(text: str) -> list[str]:
    return [each.strip() for each in re.split("[,;\n]", text) if each.strip()]


def _typed(fields: Iterable[tuple[str, str]]) -> MarketsForm:
    known = list(fields)
    one = {name: value.strip() for name, value in known}
    ticked = tuple(value.strip() for name, value in known if name == "place")
    return MarketsForm(ticked, one.get("other", ""), one.get("skus", ""), one.get("on", ""))


def _sheet(ask: Ask) -> Response:
    """Make the sheet for the wall of what is shown."""
    typed = _typed((name, value) for name, values in ask.fields.items() for value in values)
    return ask.set_to_work(
        "wall-sheet", "Markets, for the wall", "/markets", skus=typed.skus_asked,
        places=typed.places_asked, day=typed.on,
        paper="a4" if ask.text("paper") == "a4" else "letter",
    )  # fmt: skip


_ADDRESS = re.compile(r"(?:[a-z0-9-]+\.)+[a-z]{2,}(?:/[\w./%?=&#~+:,()-]*)?", re.IGNORECASE)


def linked(seen: str) -> Iterator[tuple[str, str, str]]:
    """Yield where a rule was read: an address to follow, if it is one, its words, and the rest."""
    for part in seen.split("; "):
        first, _, rest = part.strip().partition(" ")
        words = first.rstrip(",")
        if _ADDRESS.fullmatch(words):
            yield f"https://{words}", words, rest.strip()
        else:
            yield "", "", part.strip()


PAGE = DeskPage(
    "Markets", (PageRoute("/markets", _markets), PageRoute("/markets/sheet", _sheet, post=True))
)  # fmt: skip
