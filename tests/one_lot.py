"""Labels of many products under one lot's code: what no maker can print, and many tests look at."""

from __future__ import annotations

from dataclasses import replace

from labeler.app.print_request import PrintRequest, goods_of
from labeler.app.print_run import PrintResult, print_goods
from labeler.app.workstation import LedgerLocation
from labeler.catalog.read import readable


def print_one_lot(request: PrintRequest, lot: str) -> PrintResult:
    """Print every product of a request with this code, as if there were no ledger."""
    catalog, findings = readable(request.folder)
    goods = goods_of(request, catalog, None)
    labels = tuple(replace(each, lot=lot) for each in goods.labels)
    goods = replace(goods, labels=labels, findings=(*findings, *goods.findings))
    return print_goods(request, catalog, goods, LedgerLocation(request.folder), None, None)
