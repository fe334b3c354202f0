"""What the desk costs: its pages on long lines, its work beside the same job called, its memory.

Every page that shows something is asked in this process, on lines of 1,200 and 5,040 products,
every tenth with a lot. Their times are processor time: of the first request, which reads the
catalog, and of the middle one of those after it. Work is timed by the clock, from the click to the
paper, in a process that was ready as a desk has one; the same job is called in a process of its own
that has done it once, in turn with the other. Memory is the resident set of a desk as the command
opens it and of the processes that it began, after 20 and after 200 prints.

    python -m tests.bench.bench_desk [pages] [work] [memory]
"""

from __future__ import annotations

import json
import os
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from starlette import testclient

from labeler.app.lots import StockAsked, stock_on_hand, story_of
from labeler.app.open_lots import open_lots
from labeler.catalog.read import readable
from labeler.checker.proof import picture
from labeler.desk.address import Address
from labeler.desk.application import application
from labeler.desk.pages.print_jobs import seen_file
from labeler.desk.work import OUT, Work
from tests.bench.book_line import write_line
from tests.desk.conftest import demo_in
from tests.desk.every import SHOWN, address

ADDRESS = Address(41_234, "5eed5eed", "bench")
HOST = f"http://{ADDRESS.host}"
HOME = f"{HOST}/{ADDRESS.room}"
LONG_AGO = 1_600_000_000
TIMES = 7
MORE, MORE_MS = 0.1, 150
"""How much longer work may take by a desk than called: of what it takes, and in milliseconds."""
MOST = {1_200: 200.0, 5_040: 400.0}
"""Milliseconds of the processor that a page may take, by the products of the line."""


class Bench:
    """A line with lots, and a browser that was let in to its desk."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.skus = [product.sku for product in readable(self.folder)[0].products]
        batches = self.folder / "batches.csv"
        rows = [f"{sku},24,HK-{at}\n" for at, sku in enumerate(self.skus[::10])]
        batches.write_text(f"sku,count,hook\n{''.join(rows)}")
        self.lots = [lot.code for lot in open_lots(self.folder, batches).lots]
        os.utime(self.folder / "catalog.toml", (LONG_AGO, LONG_AGO))
        time.sleep(2.5)  # what was just written is read again each time
        app, self.desk = application(self.folder, ADDRESS)
        self.web = testclient.TestClient(app, base_url=HOST, follow_redirects=False)
        self.web.get(f"{HOME}/?key={ADDRESS.secret}")

    def post(self, path: str, **fields: str) -> str:
        """Send a form; return where it leads."""
        headers = {"Origin": HOST}
        return str(self.web.post(HOME + path, data=fields, headers=headers).headers["location"])

    def over(self, place: str) -> Work:
        """Wait until work is over."""
        while not (now := self.desk.works.find(place.rpartition("/")[2])) or not now.over:
            time.sleep(0.004)
        assert now.state == "done", now.findings
        return now


def taken(call: Callable[[], object]) -> tuple[float, float]:
    """Return the processor's milliseconds of a first call and of the middle one of the others."""
    spent = []
    for _ in range(TIMES):
        began = time.process_time()
        call()
        spent.append((time.process_time() - began) * 1000)
    return spent[0], statistics.median(spent[1:])


def pages(products: int, room: Path) -> None:
    """Print what every page takes on a line of so many products."""
    bench = Bench(write_line(room / str(products), products // 120, 20))
    card = bench.over(bench.post(f"/lots/{bench.lots[0]}/card", once="ab" * 8))
    known = {"code": bench.lots[0], "sku": bench.skus[0], "/work number": card.id, "place": "0"}
    asked = [address(place, known) for place in SHOWN]
    asked += ["/lots?all=1", f"/lots/trace?text={bench.lots[0]}", "/lots/count?q=alder",
              f"/tonight?n-{bench.skus[0]}=12"]  # fmt: skip
    print(f"\n{f'page, {products:,} products':<44}{'first ms':>10}{'after ms':>10}{'answer':>8}")
    for path in asked:
        status = 0

        def ask(path: str = path) -> None:
            nonlocal status
            status = bench.web.get(HOME + path).status_code

        first, after = taken(ask)
        over = f"   over {MOST[products]:.0f}" if after > MOST[products] else ""
        print(f"{path[:43]:<44}{first:>10.0f}{after:>10.0f}{status:>8}{over}")
    stock = taken(lambda: stock_on_hand(StockAsked(bench.folder), []))
    story = taken(lambda: story_of(bench.folder, bench.lots[0]))
    print(f"{'the job of /lots, by itself':<44}{stock[0]:>10.0f}{stock[1]:>10.0f}")
    print(f"{'the job of a lot, by itself':<44}{story[0]:>10.0f}{story[1]:>10.0f}")
    bench.desk.close()
    taking_in(products, room / f"{products} dropped in")


def taking_in(products: int, folder: Path) -> None:
    """Print what the page takes on which a spreadsheet of so many rows is put right."""
    folder.mkdir()
    rows = "".join(
        f"Pattern {at // 120},{at % 6 + 1}/8 oz,Color {at // 6 % 20},{at % 4 + 2}/0,4.95\n"
        for at in range(products)
    )
    app, desk = application(folder, ADDRESS)
    web = testclient.TestClient(app, base_url=HOST, follow_redirects=False)
    web.get(f"{HOME}/?key={ADDRESS.secret}")
    sheet = {"sheet": ("jigs.csv", f"Jig,Size,Color,Hook,Retail\n{rows}".encode(), "text/csv")}
    sent = web.post(f"{HOME}/take-in/drop", files=sheet, headers={"Origin": HOST})
    assert sent.status_code == 303, sent.text
    first, after = taken(lambda: web.get(f"{HOME}/take-in"))
    over = f"   over {MOST[products]:.0f}" if after > MOST[products] else ""
    print(f"{'/take-in, with its spreadsheet':<44}{first:>10.0f}{after:>10.0f}{200:>8}{over}")
    desk.close()


# ------------------------------------------------------------------------------------- work

DIRECT = """
import json, sys, time
from pathlib import Path
from labeler.desk.jobs import JOBS
for line in sys.stdin:
    kind, folder, out, asked = json.loads(line)
    began = time.perf_counter()
    JOBS[kind](Path(folder), Path(out), asked, lambda done, of: None)
    print(time.perf_counter() - began, flush=True)
"""


@contextmanager
def direct() -> Iterator[Callable[[str, Path, dict[str, object]], float]]:
    """Give what calls a job in a process of its own, and returns the seconds that it took."""
    with subprocess.Popen(
        [sys.executable, "-c", DIRECT], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdin
        assert process.stdout
        sent, said = process.stdin, process.stdout

        def call(kind: str, folder: Path, asked: dict[str, object]) -> float:
            sent.write(json.dumps([kind, str(folder), str(folder / OUT), asked]) + "\n")
            sent.flush()
            return float(said.readline())

        yield call
        sent.close()


def work(room: Path) -> None:
    """Print how long it is from a click to the paper, and how long the job itself takes."""
    bench = Bench(demo_in(room / "demo"))
    (bench.folder / OUT).mkdir()

    def tied(note: str) -> dict[str, object]:
        counts = dict.fromkeys(bench.skus[:3], 6)
        return {"counts": counts, "materials": [], "note": note, "sheet": "", "start": "next",
                "spoiled": "", "spare": 0, "ink": "colour", "sure": False}  # fmt: skip

    def tie(note: str) -> str:
        counts = {f"n-{sku}": "6" for sku in bench.skus[:3]}
        return bench.post("/tonight/tie", note=note, once=f"{time.time_ns():016x}"[-16:], **counts)

    def cards(_: str) -> str:
        return bench.post(f"/lots/{bench.lots[0]}/card", once=f"{time.time_ns():016x}"[-16:])

    clicks: dict[str, tuple[str, Callable[[str], str], Callable[[str], dict[str, object]]]] = {
        "a batch card": ("batch-cards", cards, lambda _: {"lots": bench.lots[:1]}),
        "tonight: 3 lots, 18 labels": ("tied", tie, tied),
    }
    print(f"\n{'from the click to the paper':<34}{'job ms':>10}{'desk ms':>10}{'more ms':>10}"
          f"{'ratio':>8}")  # fmt: skip
    with direct() as call:
        for what, (kind, click, asked) in clicks.items():
            jobs, desks = [], []
            for turn in range(TIMES + 1):  # the first of each loads what it needs
                jobs.append(call(kind, bench.folder, asked(f"called {turn}")) * 1000)
                began = time.perf_counter()
                bench.over(click(f"clicked {turn}"))
                desks.append((time.perf_counter() - began) * 1000)
            job, desk = statistics.median(jobs[1:]), statistics.median(desks[1:])
            print(_compared(what, job, desk))
        looked_at(bench, call)
    bench.desk.close()


def _compared(what: str, job: float, desk: float) -> str:
    """Return a line of what was measured, in milliseconds, with each limit that it is over."""
    over = [f"over {MORE:.0%}"] if desk > job * (1 + MORE) else []
    over += [f"over {MORE_MS} ms"] if desk > job + MORE_MS else []
    return (f"{what:<34}{job:>10.0f}{desk:>10.0f}{desk - job:>10.0f}{desk / job:>8.2f}   "
            f"{', '.join(over)}")  # fmt: skip


def looked_at(bench: Bench, call: Callable[[str, Path, dict[str, object]], float]) -> None:
    """Print how long a look at 300 labels takes that is called, and until its first page shows."""
    jobs, desks, drawn, shown = [], [], [], []
    for turn in range(TIMES + 1):
        skus = [f"{sku}=10" for sku in bench.skus[turn : turn + 30]]
        asked: dict[str, object] = {"use": "bags", "skus": skus, "sheet": "letter-3x10"}
        jobs.append(call("look", bench.folder, asked) * 1000)
        began = time.perf_counter()
        now = bench.over(bench.desk.works.begin("look", "Labels", asked, "/print", "").id)
        desks.append((time.perf_counter() - began) * 1000)
        file = seen_file(bench.folder, str(now.facts["seen"]))
        picture(file.read_bytes(), 1, 1000)
        shown.append((time.perf_counter() - began) * 1000)
        began = time.perf_counter()  # who calls the job has its first page drawn as well
        picture(file.read_bytes(), 1, 1000)
        drawn.append((time.perf_counter() - began) * 1000)
    job, desk, page, first = (statistics.median(each[1:]) for each in (jobs, desks, drawn, shown))
    print(_compared("a look at 300 labels", job, desk))
    print(_compared("the same, to its first page", job + page, first))


# ----------------------------------------------------------------------------------- memory


def resident(process: int) -> int:
    """Return the kilobytes that a process and all that it began hold in memory."""
    listed = subprocess.run(["ps", "-eo", "pid=,ppid=,rss="], capture_output=True, text=True)
    rows = [tuple(map(int, line.split())) for line in listed.stdout.splitlines()]
    found, of = {process}, 0
    while of != len(found):
        of = len(found)
        found |= {own for own, parent, _ in rows if parent in found}
    return sum(held for own, _, held in rows if own in found)


def memory(room: Path) -> None:
    """Print what a desk holds in memory after 20 and after 200 prints."""
    import http.client

    line = write_line(room / "memory", 1, 4)
    sku = readable(line)[0].products[0].sku
    batches = line / "batches.csv"
    batches.write_text(f"sku,count\n{sku},240\n")
    lot = open_lots(line, batches).lots[0].code
    words = ["-m", "labeler", "--catalog", str(line), "desk", "--no-browser", "--json"]
    with subprocess.Popen([sys.executable, *words], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout
        said = ""
        while not said.endswith("\n}\n"):
            said += process.stdout.readline()
        url = str(json.loads(said)["address"])
        host, rooms = url.split("/")[2], f"/{url.split('/')[3]}"
        web = http.client.HTTPConnection(host)

        def ask(method: str, path: str, body: str = "") -> http.client.HTTPResponse:
            headers = {"Origin": f"http://{host}", "Cookie": cookie,
                       "Content-Type": "application/x-www-form-urlencoded"}  # fmt: skip
            web.request(method, path, body or None, headers)
            return web.getresponse()

        cookie = ""
        entered = ask("GET", f"{rooms}/?{url.partition('?')[2]}")
        entered.read()
        cookie = str(entered.headers["set-cookie"]).partition(";")[0]
        held: dict[int, int] = {}
        for number in range(1, 201):
            answer = ask("POST", f"{rooms}/lots/{lot}/card", f"once={number:016x}")
            answer.read()
            place = str(answer.headers["location"])
            while True:
                page = ask("GET", place)
                text = page.read().decode()
                if "Done." in text:
                    break
                assert "Not done" not in text, text
                time.sleep(0.02)
            for path in ("/tonight", "/lots", f"/lots/{lot}"):
                ask("GET", rooms + path).read()
            if number in (20, 200):
                held[number] = resident(process.pid)
        process.send_signal(signal.SIGINT)
        process.wait(30)
    ratio = held[200] / held[20]
    over = "   over 1.2" if ratio > 1.2 else ""
    print(f"\nin memory after 20 prints {held[20] / 1024:.0f} MB, after 200 "
          f"{held[200] / 1024:.0f} MB: {ratio:.2f}{over}")  # fmt: skip


def main() -> None:
    """Print what is asked for; all of it, where nothing is."""
    wanted = sys.argv[1:] or ["pages", "work", "memory"]
    with tempfile.TemporaryDirectory() as name:
        room = Path(name)
        if "pages" in wanted:
            for products in MOST:
                pages(products, room)
        if "work" in wanted:
            work(room)
        if "memory" in wanted:
            memory(room)


if __name__ == "__main__":
    main()
