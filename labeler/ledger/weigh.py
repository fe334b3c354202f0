"""The weigh-in: a sample of a lot on the scale, questioned where a unit slipped, and kept."""

from __future__ import annotations

import math
import re
import statistics
import tomllib
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any, Literal

from sqlalchemy import Connection, Row, select

from labeler.findings import Finding, LabelerError, Place, fix, refusal, stop
from labeler.ledger.assign import Request, once, set_hold
from labeler.ledger.lots import a_line, find, lot_id, snapshot_of, why_held
from labeler.ledger.schema import weighings
from labeler.ledger.store import Ledger, enter, put
from labeler.ledger.stored import (
    NUMBER,
    SOME_NUMBER,
    WHOLE,
    Document,
    Shape,
    StoredKind,
    as_object,
    listed,
)
from labeler.units import GRAMS_PER_OUNCE, Weight, WeightUnit

# Judges a sample by weight, with the sampling plans, factors and variations of Handbook 133.
#
# The figures and their source stand in ``handbook133.toml``.

Verdict = Literal["pass", "fail", "weigh more"]

NO_NET_WEIGHT = (
    "A head's nominal weight is no statement of net contents; this weigh-in is the maker's own "
    "check and no official inspection."
)


@dataclass(frozen=True, slots=True)
class Judgement:
    """What a sample says about a lot. Weights are in grams; an error is actual less labelled.

    Attributes:
        label: the weight stated.
        lot_size: pieces in the lot.
        sample_asked: pieces the plan asks for.
        sample: pieces weighed.
        mean: of the weights.
        mean_error: of the errors.
        deviation: the sample standard deviation; None for one piece.
        factor: the sample correction factor; None for one piece.
        error_limit: the sample error limit, factor times deviation; None for one piece.
        allowed_variation: the maximum allowable variation, MAV.
        may_exceed: how many pieces may be light by more than the MAV.
        beyond: the weights that are.
    """

    label: float
    lot_size: int
    sample_asked: int
    sample: int
    mean: float
    mean_error: float
    deviation: float | None
    factor: float | None
    error_limit: float | None
    allowed_variation: float
    may_exceed: int
    beyond: tuple[float, ...]

    def as_json(self) -> dict[str, Any]:
        """Return plain values."""
        return asdict(self) | {"beyond": list(self.beyond)}

    @property
    def is_light(self) -> bool:
        """Whether the average is under the label by more than the sample error limit."""
        return self.error_limit is not None and -self.mean_error > self.error_limit

    @property
    def has_too_light(self) -> bool:
        """Whether more pieces than may be are light by more than the MAV."""
        return len(self.beyond) > self.may_exceed

    def shortcoming(self) -> str:
        """Return in short what is wrong with a lot that fails."""
        if self.has_too_light:
            return f"{len(self.beyond)} of {self.sample} lack more than a single one may"
        return f"{-self.mean_error:.2f} g too light on average, by {self.sample} weighed"

    @property
    def verdict(self) -> Verdict:
        """Whether the lot passes; more pieces cannot mend one that has too many too light."""
        if self.has_too_light:
            return "fail"
        if self.sample < self.sample_asked:
            return "weigh more"
        return "fail" if self.is_light else "pass"

    def sentences(self, weight: str = "") -> str:
        """Return the judgement as a maker would tell it, the verdict first, with its caution.

        Args:
            weight: the weight as the label states it; empty takes grams.
        """
        stated = weight or f"{self.label:.2f} g"
        return " ".join([self._verdict(stated), self._average(), *self._pieces(), NO_NET_WEIGHT])

    def _average(self) -> str:
        off = f"{abs(self.mean_error):.2f} g {'under' if self.mean_error < 0 else 'over'}"
        text = f"{self.sample} of {self.lot_size} weighed: on average {self.mean:.2f} g, {off} the "
        text += f"{self.label:.2f} g stated"
        if self.mean_error >= 0 or self.error_limit is None:
            return text + "."
        side = "more" if self.is_light else "no more"
        return f"{text}, {side} than the sample error limit of {self.error_limit:.2f} g."

    def _pieces(self) -> list[str]:
        if not self.beyond:
            return []
        listed = ", ".join(f"{grams:.2f} g" for grams in self.beyond)
        return [
            f"{listed} {'is' if len(self.beyond) == 1 else 'are'} light by more than the "
            f"{self.allowed_variation:.2f} g that a single piece may lack "
            f"({self.may_exceed or 'none'} may)."
        ]

    def _verdict(self, stated: str) -> str:
        all_of = f"All {self.lot_size:,}" if self.lot_size > 1 else "The one jig"
        if self.verdict == "pass":
            return f"{all_of} may be sold as {stated}."
        if self.verdict == "weigh more":
            lacking = self.sample_asked - self.sample
            return f"Not judged yet: weigh {lacking} more of the lot, taken at random."
        why = "too many are too light" if self.has_too_light else "they are too light on average"
        return f"Held: the lot is not to be sold as {stated}, for {why}."


def sample_size(lot_size: int) -> int:
    """Return how many pieces of a lot to weigh.

    Source: NIST Handbook 133, Table 2-1, Category A.
    """
    return int(_plan(lot_size)["sample"]) or lot_size


def allowed_variation(label_grams: Fraction) -> Fraction:
    """Return the maximum allowable variation, in grams, of a label of so many grams.

    Raises:
        LabelerError: if the label is heavier than the table goes.

    Source: NIST Handbook 133, Table 2-5.
    """
    for row in _tables()["allowed"]["rows"]:
        if label_grams < row["below"]:
            return Fraction(row["grams"] if "grams" in row else row["share"] * label_grams)
    raise refusal(
        "weigh-label-heavy",
        Place(key="label"),
        "the table of allowable variations ends below this weight",
        found=f"{float(label_grams):.1f} g",
        expected=f"under {_tables()['allowed']['rows'][-1]['below']} g",
        source=_tables()["title"],
    )


def judge(label: Weight, weights: Sequence[Weight], lot_size: int) -> Judgement:
    """Judge a lot by a sample of it.

    Args:
        label: the weight stated for one piece.
        weights: what the pieces of the sample weigh.
        lot_size: pieces in the lot.

    Raises:
        LabelerError: if nothing or more than the lot was weighed, or the tables end before.

    Source: NIST Handbook 133, chapter 2, Category A: a lot fails if its average error is negative
    and larger than the sample error limit, or if too many pieces are light beyond the MAV.
    """
    _refuse_odd_sample(len(weights), lot_size)
    errors = [weight.grams - label.grams for weight in weights]
    variation = allowed_variation(label.grams)
    deviation = float(statistics.stdev(errors)) if len(errors) > 1 else None
    factor = correction_factor(len(errors))
    mean_error = Fraction(sum(errors), len(errors))
    return Judgement(
        label=float(label.grams),
        lot_size=lot_size,
        sample_asked=sample_size(lot_size),
        sample=len(errors),
        mean=float(mean_error + label.grams),
        mean_error=float(mean_error),
        deviation=deviation,
        factor=factor,
        error_limit=factor * deviation if factor is not None and deviation is not None else None,
        allowed_variation=float(variation),
        may_exceed=_plan(lot_size)["may_exceed"],
        beyond=tuple(float(label.grams + error) for error in errors if -error > variation),
    )


def correction_factor(sample: int) -> float | None:
    """Return the sample correction factor for so many pieces; None for one piece.

    Source: NIST Handbook 133, Table 2-1.
    """
    table = _tables()["correction"]
    at = sample - table["first"]
    return float(table["factors"][at]) if at >= 0 else None


def _plan(lot_size: int) -> dict[str, Any]:
    plans: list[dict[str, Any]] = _tables()["sampling"]
    return next(plan for plan in plans if lot_size <= plan.get("lots_to", lot_size))


def _refuse_odd_sample(weighed: int, lot_size: int) -> None:
    most = min(lot_size, len(_tables()["correction"]["factors"]) + 1)
    if not 1 <= weighed <= most:
        raise refusal(
            "weigh-sample",
            Place(key="weights"),
            f"a lot of {lot_size} is not judged by so many weights",
            found=str(weighed),
            expected=f"{sample_size(lot_size)}; at most {most}",
            hint=""
            if weighed < 1
            else "All weights of a lot are one sample; --again --why TEXT begins it again.",
            source=_tables()["title"],
        )


@cache
def _tables() -> dict[str, Any]:
    text = Path(__file__).with_name("handbook133.toml").read_text(encoding="utf-8")
    return tomllib.loads(text, parse_float=Fraction)


_FAR = 2.0
"""A piece that weighs twice or half the label is no scatter of hand pouring: common practice, no
published source."""

_NEAR = 1.25
"""A slip explains a weight that comes within a quarter of the label once it is undone."""

_GRAINS_PER_GRAM = 1 / 0.06479891
"""Source: NIST SP 811 (2008), appendix B.8, "grain": 6.479 891 E-05 kg."""

_SLIPS = (
    ("ounces taken for grams", float(GRAMS_PER_OUNCE)),
    ("grams taken for ounces", 1 / float(GRAMS_PER_OUNCE)),
    ("grains taken for grams", 1 / _GRAINS_PER_GRAM),
    ("a decimal point one place off", 10.0),
    ("a decimal point one place off", 0.1),
    ("a decimal point left out", 0.01),
    ("milligrams taken for grams", 0.001),
)
"""What may have happened, and the factor that undoes it."""


_JUDGEMENT = Shape(
    Judgement,
    label=NUMBER, lot_size=WHOLE, sample_asked=WHOLE, sample=WHOLE, mean=NUMBER,
    mean_error=NUMBER, deviation=SOME_NUMBER, factor=SOME_NUMBER, error_limit=SOME_NUMBER,
    allowed_variation=NUMBER, may_exceed=WHOLE, beyond=listed(NUMBER),
)  # fmt: skip


def _judgement_2(first: Any) -> Document:
    return dict(as_object(first))


JUDGEMENT = StoredKind("a weigh-in", _JUDGEMENT, (_judgement_2,), ("0.1.0",))


@dataclass(frozen=True, slots=True)
class WeighIn:
    """A weigh-in as the ledger keeps it; ``at`` is in UTC.

    ``weights`` are those that it added to the lot's sample; the judgement is on all of the sample.
    """

    lot: str
    label: Weight
    weights: tuple[Weight, ...]
    judgement: Judgement
    at: datetime
    who: str
    closed: bool = False


def read_weights(
    texts: Sequence[str], unit: WeightUnit = "g", places: Sequence[Place] = ()
) -> tuple[Weight, ...]:
    """Read what was typed or came from a file, such as ``10.4``, ``10,4`` or ``0.37 oz``.

    Args:
        texts: one weight each.
        unit: the unit of a number that stands without one.
        places: where each stands, if that is in a file.

    Raises:
        LabelerError: with every weight that cannot be read.
    """
    weights, faults = [], []
    for at, text in enumerate(texts, start=1):
        pointed = text.replace(",", ".") if _COMMA.fullmatch(text) else text
        try:
            weights.append(Weight.parse(pointed, bare_unit=unit))
        except ValueError as error:
            place = places[at - 1] if places else Place(key=f"weight {at}")
            faults.append(_unreadable(place, text, str(error)))
    if faults:
        raise LabelerError(faults)
    return tuple(weights)


_COMMA = re.compile(r"\s*(?:0,\d{3}|\d*,(?!\d{3}(?!\d))\d+)(?!,)[^,]*")
"""A decimal comma. With three digits behind it, it may part the thousands as well."""


def split_weights(text: str) -> tuple[str, ...]:
    """Return the weights of a text that may hold several: ``11.2 11.4 11.3``, by line or comma.

    What can't be taken apart for certain stays as it is, for `read_weights` to refuse.
    """
    found: list[str] = []
    for part in filter(None, map(str.strip, re.split(r"[\n\t;]|,(?=\s|$)", text))):
        several = _SEVERAL.fullmatch(part) is None and "." in part
        for piece in part.split(",") if several else [part]:
            found += re.findall(_ONE, piece) if _SEVERAL.fullmatch(piece) else [piece.strip()]
    return tuple(found)


_ONE = (
    r"(?:(?:\d+[ -])?\d+/\d+|\d+(?:[.,]\d+)?(?!/)|[.,]\d+|[¼½¾⅛⅜⅝⅞])"
    r"(?: ?(?:oz|ounces?|g|grams?)\b\.?)?"
)
_SEVERAL = re.compile(rf"\s*(?:{_ONE}\s+)*{_ONE}\s*")


def _unreadable(place: Place, text: str, expected: str) -> Finding:
    point = text.strip().replace(",", ".")
    return stop(
        "weight-unreadable",
        place,
        "this is not a weight",
        found=repr(text),
        expected=expected,
        hint=f"Write {point}, or {text.strip().replace(',', '')}."
        if re.match(r"\s*\d+,\d{3}(?!\d|,)", text)
        else "",
    )


def question(label: Weight, weights: Sequence[Weight]) -> tuple[Finding, ...]:
    """Return a question for every kind of slip that some of the weights look like."""
    doubtful: defaultdict[str, list[str]] = defaultdict(list)
    for at, weight in enumerate(weights, start=1):
        ratio = float(weight.grams / label.grams)
        if not 1 / _FAR < ratio < _FAR:
            doubtful[_likely_slip(ratio)].append(f"weight {at}, {weight}")
    return tuple(
        fix(
            "weight-questioned",
            Place(key=listed[0]),
            f"this looks like {slip}" if slip else "this is far from the weight stated",
            found="; ".join(listed),
            expected=f"about {label} ({float(label.grams):.2f} g)",
            hint="Correct it, give its unit (10.6g, 3/8oz, --unit oz), or say --sure if it is so.",
        )
        for slip, listed in doubtful.items()
    )


def _likely_slip(ratio: float) -> str:
    off, slip = min((abs(math.log(ratio * undo)), slip) for slip, undo in _SLIPS)
    return slip if off <= math.log(_NEAR) else ""


@dataclass(frozen=True, slots=True)
class Sample:
    """What becomes of a lot's sample with a weigh-in.

    Attributes:
        again: why it is begun again; empty adds to the one that was begun.
        close: nothing is to be added to it any more.
    """

    again: str = ""
    close: bool = False


def weigh(
    ledger: Ledger,
    code: str,
    weights: Sequence[Weight],
    *,
    sure: bool = False,
    key: str | None = None,
    sample: Sample = Sample(),
) -> WeighIn:
    """Judge a lot by all of its sample, and keep the weigh-in; a lot that fails is held.

    Args:
        ledger: an open ledger.
        code: the lot's code.
        weights: what the pieces weigh that are added; none only to close the sample.
        sure: take weights that look like a slip as they are.
        key: names this request, so that making it twice keeps one weigh-in.
        sample: whether the sample is begun again, or closed.

    Raises:
        LabelerError: if there is no such lot, a weight is questioned, the sample is closed, or it
            cannot be judged.
    """
    lot = find(ledger, code)
    label = snapshot_of(ledger, lot).weight
    if not sure and (questions := question(label, weights)):
        raise LabelerError(questions)
    readings = [str(weight) for weight in weights]
    again = a_line(sample.again, "reason", may_lack=True)

    def keep(connection: Connection) -> int:
        number = lot_id(connection, lot.code, hold=True)
        before = [] if again else _sample(connection, number)
        _refuse_closed(lot.code, before)
        taken = [Weight.parse(text) for row in before for text in row.readings]
        judgement = judge(label, [*taken, *weights], lot.count)
        weighed = put(
            connection,
            ledger,
            weighings,
            lot_id=number,
            label=str(label),
            readings=readings,
            verdict=judgement.verdict,
            report=JUDGEMENT.write(judgement),
            begins=int(not before),
            closed=int(sample.close),
            why=again,
        )
        more = {"anew": again} if again else {}
        more |= {"closed": "yes"} if sample.close else {}
        enter(connection, ledger, "weigh", number, verdict=judgement.verdict, weights=readings,
              **more)  # fmt: skip
        if judgement.verdict == "fail" and not why_held(connection, number):
            why = f"failed weigh-in {weighed}: {judgement.shortcoming()}"
            set_hold(connection, ledger, number, why, "hold")
        return weighed

    more = {"again": again} if again else {}
    more |= {"close": "yes"} if sample.close else {}
    request = Request.of("weigh", key, lot=lot.code, weights=readings, **more)
    kept = once(ledger, request, keep)
    return next(each for each in weigh_ins(ledger, lot.code, kept))


def _sample(connection: Connection, lot: int) -> list[Row[Any]]:
    """Return the weigh-ins of the sample that a lot has now, oldest first."""
    query = select(weighings).where(weighings.c.lot_id == lot).order_by(weighings.c.id)
    rows = connection.execute(query).all()
    begun = max((at for at, row in enumerate(rows) if row.begins), default=0)
    return list(rows[begun:])


def _refuse_closed(code: str, before: Sequence[Row[Any]]) -> None:
    if before and before[-1].closed:
        raise refusal(
            "weigh-closed",
            Place(key=f"lot {code}"),
            "the sample of this lot was closed, so nothing is added to it",
            hint="--again --why TEXT begins another; both stay in the ledger.",
        )


def weigh_ins(ledger: Ledger, code: str, number: int | None = None) -> list[WeighIn]:
    """Return the weigh-ins of a lot, oldest first; or the one with this ledger number."""

    def look(connection: Connection) -> list[WeighIn]:
        lot = lot_id(connection, code)
        query = select(weighings).where(weighings.c.lot_id == lot).order_by(weighings.c.id)
        if number is not None:
            query = query.where(weighings.c.id == number)
        return [
            WeighIn(
                lot=code,
                label=Weight.parse(row.label),
                weights=tuple(Weight.parse(text) for text in row.readings),
                judgement=JUDGEMENT.read(row.report, Place(file=ledger.where, key=f"lot {code}")),
                at=row.at,
                who=row.who,
                closed=bool(row.closed),
            )
            for row in connection.execute(query)
        ]

    return ledger.read(look)
