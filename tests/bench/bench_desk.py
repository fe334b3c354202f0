"""What a page of the desk costs beside the job that it shows, and work beside the same job called.

Pages are asked in this process on 1,200 products, every tenth with a lot; times are processor time,
of the first request, which reads the catalog, and of the middle one of those after it. Work is
timed by the clock from the click to the paper, in a process that was ready, as a desk has one.

    python -m tests.bench.bench_desk
"""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from starlette import testclient

from labeler.app.lots import StockAsked, stock_on_hand, story_of
from labeler.app.open_lots import open_lots
from labeler.app.papers import print_batch_cards
from labeler.catalog.read import readable
from labeler.desk.address import Address
from labeler.desk.application import application
from tests.bench.book_line import write_line

ADDRESS = Address(41_234, "5eed5eed", "bench")
HOME = f"http://{ADDRESS.host}/{ADDRESS.room}"
LONG_AGO = 1_600_000_000
TIMES = 9


def taken(call: Callable[[], object]) -> tuple[float, float]:
    """Return the processor's milliseconds of a first call and of the middle one of the others."""
    spent = []
    for _ in range(TIMES):
        began = time.process_time()
        call()
        spent.append((time.process_time() - began) * 1000)
    return spent[0], statistics.median(spent[1:])


def main() -> None:
    """Print both tables."""
    with tempfile.TemporaryDirectory() as name:
        folder = write_line(Path(name) / "line", 10, 20)
        skus = [product.sku for product in readable(folder)[0].products[::10]]
        batches = folder / "batches.csv"
        batches.write_text("sku,count\n" + "".join(f"{sku},24\n" for sku in skus))
        lots = [lot.code for lot in open_lots(folder, batches).lots]
        os.utime(folder / "catalog.toml", (LONG_AGO, LONG_AGO))
        time.sleep(2.5)  # what was just written is read again each time
        app, desk = application(folder, ADDRESS)
        web = testclient.TestClient(app, base_url=f"http://{ADDRESS.host}")
        web.get(f"{HOME}/?key={ADDRESS.secret}")

        def page(path: str) -> Callable[[], object]:
            return lambda: web.get(HOME + path).raise_for_status()

        print(f"{'page, 1,200 products':<34}{'first ms':>10}{'after ms':>10}")
        for path in ("/tonight", "/lots", f"/lots/{lots[0]}", f"/lots/trace?text={lots[0]}"):
            first, after = taken(page(path))
            print(f"{path:<34}{first:>10.0f}{after:>10.0f}")
        stock = taken(lambda: stock_on_hand(StockAsked(folder), []))
        story = taken(lambda: story_of(folder, lots[0]))
        print(f"{'the job of /lots, by itself':<34}{stock[0]:>10.0f}{stock[1]:>10.0f}")
        print(f"{'the job of a lot, by itself':<34}{story[0]:>10.0f}{story[1]:>10.0f}")

        for number in range(3):
            began = time.perf_counter()
            print_batch_cards(folder, lots[:6], Path(name) / "cards.pdf")
            direct = time.perf_counter() - began
            asked = {"lots": lots[:6]}
            began = time.perf_counter()
            work = desk.works.begin("batch-cards", "Cards", asked, "/lots", "")
            while (now := desk.works.find(work.id)) is not None and not now.over:
                time.sleep(0.01)
            of_desk = time.perf_counter() - began
            ready = "a process begun for it" if number == 0 else "a process that was ready"
            print(f"six batch cards: called {direct * 1000:.0f} ms, by the desk "
                  f"{of_desk * 1000:.0f} ms, {ready}")  # fmt: skip
        desk.close()


if __name__ == "__main__":
    main()
