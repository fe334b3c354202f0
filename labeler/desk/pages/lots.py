"""Lots: what is on hand of each product, and one lot from its card to who has it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from pathlib import Path
from urllib.parse import urlencode

from starlette.responses import Response

from labeler.app.lots import (
    LotStory,
    StockAsked,
    StockLine,
    WeighRequest,
    hold_lot,
    release_lot,
    sample_of,
    stock_on_hand,
    story_of,
    trace_to_lots,
    void_lot,
    weigh_lot,
)
from labeler.app.open_lots import add_to_lot
from labeler.app.opening import Before, counts_waiting, open_before
from labeler.app.reprint import unprint
from labeler.app.workstation import ledger_location
from labeler.catalog.read import examine, readable
from labeler.desk.page import Ask, DeskPage, Faults, PageRoute
from labeler.desk.pages.figures import pictured, shown_jigs
from labeler.desk.pages.tonight import counts_in, no_day
from labeler.findings import Finding, LabelerError, Place, refusal, stop
from labeler.ledger.lots import a_line, known_kinds
from labeler.ledger.weigh import split_weights

_COUNTED = "stock of "
"""What the key of a count's place begins with; then the SKU."""

_DONE = {
    "held": "It is held: no label of it is printed and none of it is shipped until you release it.",
    "released": "It is released: it may be labelled and shipped.",
    "void": "Its code is withdrawn for good.",
    "begun": "The sample is begun again; the weights before stay in the journal.",
    "closed": "The sample is closed.",
    "added": "It is noted: a trace of it leads here.",
    "back": "The run is taken back: its cells are free, its labels no longer counted.",
    "before": "That run was taken back before, or was a trial; nothing is changed.",
    "counted": "The count is on record: one lot of each product, not traceable to materials.",
    "known": "All of this was counted before; nothing is opened twice.",
}
"""What was just done, by the word that the address says it with."""


# --------------------------------------------------------------------------------- what is here


def _on_hand(ask: Ask) -> Response:
    """Show what is on hand of each product, lot by lot."""
    catalog, _ = readable(ask.folder)
    lines = stock_on_hand(StockAsked(ask.folder), [])
    fitting = _fitting(ask, lines)
    here = [line for line in fitting if line.lots or line.promised]
    return ask.shown(
        "lots.html.jinja",
        waiting=len(counts_waiting(ask.folder)),
        without=len(fitting) - len(here),
        jigs=sum(line.on_hand for line in lines),
        lots=sum(1 for line in lines for each in line.lots if each.here),
        held=sum(line.held for line in lines),
        done=_DONE.get(ask.query("done"), ""),
        **shown_jigs(catalog),
        **ask.leaf(fitting if ask.query("q") or ask.query("all") else here),
    )


def _fitting(ask: Ask, lines: Sequence[StockLine]) -> list[StockLine]:
    """Return the products that all words asked for fit."""
    asked = ask.query("q").casefold().split()
    return [line for line in lines if all(word in _words_of(line) for word in asked)]


def _words_of(line: StockLine) -> str:
    codes = " ".join(each.lot.code for each in line.lots)
    return f"{line.sku} {line.name} {codes}".casefold()


# ----------------------------------------------------------------------------------- counting


def _count(ask: Ask, faults: Faults | None = None) -> Response:
    """Show what nothing is on record of, to be counted."""
    lines = stock_on_hand(StockAsked(ask.folder), [])
    typed = {name: ask.text(name) for name in ask.fields}
    asked = [line for line in lines if f"n-{line.sku}" in typed]
    here = bool(ask.query("q"))
    waiting = {} if ask.fields else counts_waiting(ask.folder)
    typed |= {f"n-{sku}": str(count) for sku, count in waiting.items()}
    open_ = [one for one in _fitting(ask, lines)
             if here or not one.on_hand or one.sku in waiting]  # fmt: skip
    open_.sort(key=lambda one: one.sku not in waiting)
    by_field = faults.by_field.values() if faults else ()
    unsure = any(one.rule == "stock-twice" for of in by_field for one in of)
    return ask.shown(
        "count.html.jinja", faults, typed=typed, unsure=unsure,
        today=ledger_location(ask.folder).today().isoformat(),
        waiting=any(one.sku in waiting for one in open_), **ask.leaf(asked or open_),
    )  # fmt: skip


def _keep_count(ask: Ask) -> Response:
    """Open a lot of each product whose stock was counted; what stands in the way is told."""
    faults: list[Finding] = []
    fields: dict[str, str] = {}
    typed = {name: ask.text(name) for name in ask.fields}
    counts = tuple(counts_in(typed, faults, fields))
    try:
        day = dt.date.fromisoformat(typed["counted"]) if typed.get("counted") else None
    except ValueError:
        day = None
        faults.append(no_day(typed["counted"], "counted"))
    if not counts and not faults:
        faults.append(stop("tied-unread", Place(), "nothing is counted yet",
                           expected="a number at what is here"))  # fmt: skip
    fields |= {f"{_COUNTED}{sku}": f"n-{sku}" for sku, _ in counts}
    fields |= {sku: f"n-{sku}" for sku, _ in counts} | {"lot-day": "counted", "counted": "counted"}
    if faults:
        return _count(ask, Faults(faults, fields))
    try:
        done = open_before(Before(ask.folder, None, counts, counted=day, sure="sure" in typed))
    except LabelerError as error:
        return _count(ask, Faults(error.findings, fields))
    return ask.went_to("/lots", done="counted" if done.lots else "known")


# ------------------------------------------------------------------------------------- one lot


def _lot(ask: Ask, faults: Faults | None = None) -> Response:
    """Show everything about one lot."""
    story = story_of(ask.folder, ask.part("code"))
    catalog, _ = examine(ask.folder)
    return ask.shown(
        "lot.html.jinja", faults, whole=story, lot=story.lot, product=story.product,
        story=story.story, clock=story.location.clock, sample=_sample(ask, story),
        done=_DONE.get(ask.query("done"), ""), unit=ask.query("unit") or ask.text("unit"),
        typed=ask.text, kinds=known_kinds(),
        now=catalog.fingerprint[:12] if catalog and story.lot.sku in pictured(catalog) else "",
    )  # fmt: skip


def _sample(ask: Ask, story: LotStory) -> dict[str, object]:
    """Return how many to weigh, and the sample as it stands; nothing of what isn't weighed."""
    try:
        asked = sample_of(ask.folder, story.lot.code)
    except LabelerError:
        return {}
    last = story.weigh_ins[-1] if story.weigh_ins else None
    verdict = last.judgement.verdict if last else ""
    said = last.judgement.sentences(str(last.label)) if last else ""
    verdict_first, _, rest = said.partition(". ")
    return {
        "asked": asked.sample,
        "label": asked.label,
        "grams": f"{float(asked.label.grams):.2f}",
        "last": last,
        "bad": verdict == "fail",
        "good": verdict == "pass",
        "verdict": f"{verdict_first}." if last else "",
        "rest": rest,
        "weights": _weights(story, last.judgement.sample if last else 0),
    }


def _weights(story: LotStory, count: int) -> list[str]:
    """Return the weights of the sample that the lot has now, the newest first."""
    every = [str(weight) for weighed in story.weigh_ins for weight in weighed.weights]
    return every[::-1][:count]


def _weigh(ask: Ask) -> Response:
    """Keep what the scale shows, of one jig or several; an empty field keeps nothing."""
    code, unit = ask.part("code"), ask.text("unit")
    anew = "again" in ask.fields
    field = "first" if anew else "weight"
    weight = ask.text(field)
    request = WeighRequest(
        ask.folder, code, split_weights(weight) or (("",) if anew else ()),
        unit="oz" if unit == "oz" else "g",
        sure=bool(ask.text("sure")), key=f"desk {ask.text('once')}", again=ask.text("again"),
        close=bool(ask.text("close")),
    )  # fmt: skip
    if not request.texts and not request.close:
        return ask.went_to(f"/lots/{code}", unit=unit)
    try:
        if anew:  # without a reason it would go to the sample that there is
            a_line(request.again, "reason")
        weigh_lot(request)
    except LabelerError as error:
        of = {each.place.key: field for each in error.findings} | {"reason": "again"}
        return _lot(ask, Faults(error.findings, of))
    done = "closed" if request.close else "begun" if request.again else ""
    return ask.went_to(f"/lots/{code}", unit=unit, done=done)


def _because(
    job: Callable[[Path, str, str], object], field: str, done: str
) -> Callable[[Ask], Response]:
    """Return what does a job that wants a lot and a reason.

    Args:
        job: holds, releases or withdraws.
        field: the reason's.
        done: the word in the address of what was done.
    """

    def answer(ask: Ask) -> Response:
        code = ask.part("code")
        try:
            job(ask.folder, code, ask.text(field))
        except LabelerError as error:
            return _lot(ask, Faults(error.findings, {"reason": field, code: field}))
        return ask.went_to(f"/lots/{code}", done=done)

    return answer


def _add(ask: Ask) -> Response:
    """Note what else went into a lot, or in the place of what was noted by mistake."""
    code, kind, lot = ask.part("code"), ask.text("kind"), ask.text("lot")
    try:
        add_to_lot(ask.folder, code, [f"{kind}={lot}"], ask.text("instead") or None)
    except LabelerError as error:
        of = {each.rule: "lot" for each in error.findings} | {"material-kind": "kind"}
        return _lot(ask, Faults(error.findings, of))
    return ask.went_to(f"/lots/{code}", done="added")


def _take_back(ask: Ask) -> Response:
    """Take back a run that was not printed."""
    code, run = ask.part("code"), ask.text("run")
    known = {str(each.run) for each in story_of(ask.folder, code).runs}
    try:
        if run not in known:
            raise refusal("unknown-run", Place(key="run"), "nothing of this lot is on record as "
                          "this run", found=run[:20], expected=", ".join(known))  # fmt: skip
        done = unprint(ask.folder, int(run), ask.text("why"))
    except LabelerError as error:
        return _lot(ask, Faults(error.findings, {"reason": f"why-{run}", "why": f"why-{run}"}))
    return ask.went_to(f"/lots/{code}", done="back" if done.was == "printed" else "before")


def _card(ask: Ask) -> Response:
    """Make the batch card of a lot; the job itself says if there is none."""
    code = ask.part("code")
    return ask.set_to_work("batch-cards", f"Batch card of lot {code}", f"/lots/{code}", lots=[code])


# --------------------------------------------------------------------------------------- trace


def _trace(ask: Ask) -> Response:
    """Show the lots that anything in hand leads to, and who has them."""
    text = ask.query("text")
    if not text:
        return ask.shown("trace.html.jinja", text="", found=None, findings=())
    try:
        found, findings = trace_to_lots(ask.folder, text)
    except LabelerError as error:
        faults = Faults(error.findings, {each.rule: "text" for each in error.findings})
        return ask.shown("trace.html.jinja", faults, text=text, found=None, findings=())
    meant = "; ".join(found.meanings)
    out = sum(each.count for each in found.dealers)
    here = sum(story.on_hand for story in found.stories)
    held = sum(story.on_hand for story in found.stories if story.held)
    gone = sum(story.gone for story in found.stories)
    return ask.shown(
        "trace.html.jinja", text=text, found=found, findings=findings, out=out, here=here,
        held=held, gone=gone, meant=meant[:1].upper() + meant[1:],
    )  # fmt: skip


def _recall(ask: Ask) -> Response:
    """Make the recall sheet of what was traced."""
    text = ask.text("text")
    back = f"/lots/trace?{urlencode({'text': text})}"
    return ask.set_to_work(
        "recall-sheet", f"Recall sheet: {text}", back, text=text, why=ask.text("why")
    )


PAGE = DeskPage(
    "Lots",
    (
        PageRoute("/lots", _on_hand),
        PageRoute("/lots/count", _count),
        PageRoute("/lots/count/keep", _keep_count, post=True),
        PageRoute("/lots/trace", _trace),
        PageRoute("/lots/recall", _recall, post=True),
        PageRoute("/lots/{code}", _lot),
        PageRoute("/lots/{code}/weigh", _weigh, post=True),
        PageRoute("/lots/{code}/hold", _because(hold_lot, "hold", "held"), post=True),
        PageRoute("/lots/{code}/release", _because(release_lot, "release", "released"), post=True),
        PageRoute("/lots/{code}/void", _because(void_lot, "void", "void"), post=True),
        PageRoute("/lots/{code}/add", _add, post=True),
        PageRoute("/lots/{code}/unprint", _take_back, post=True),
        PageRoute("/lots/{code}/card", _card, post=True),
    ),
)
