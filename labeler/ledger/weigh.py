"""The weigh-in: a sample of a lot on the scale, questioned where a unit slipped, and kept."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, select

from labeler.findings import Finding, LabelerError, Place, fix, stop
from labeler.ledger.assign import Request, once
from labeler.ledger.handbook133 import Judgement, judge
from labeler.ledger.lots import find, lot_id, snapshot_of
from labeler.ledger.schema import weighings
from labeler.ledger.store import Ledger, enter
from labeler.ledger.stored import JUDGEMENT
from labeler.units import GRAMS_PER_OUNCE, Weight, WeightUnit

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


@dataclass(frozen=True, slots=True)
class WeighIn:
    """A weigh-in as the ledger keeps it; ``at`` is in UTC."""

    lot: str
    label: Weight
    weights: tuple[Weight, ...]
    judgement: Judgement
    at: datetime
    who: str


def read_weights(
    texts: Sequence[str], unit: WeightUnit = "g", places: Sequence[Place] = ()
) -> tuple[Weight, ...]:
    """Read what was typed or came from a file, such as ``10.4`` or ``0.37 oz``.

    Args:
        texts: one weight each.
        unit: the unit of a number that stands without one.
        places: where each stands, if that is in a file.

    Raises:
        LabelerError: with every weight that cannot be read.
    """
    weights, faults = [], []
    for at, text in enumerate(texts, start=1):
        try:
            weights.append(Weight.parse(text, bare_unit=unit))
        except ValueError as error:
            place = places[at - 1] if places else Place(key=f"weight {at}")
            faults.append(_unreadable(place, text, str(error)))
    if faults:
        raise LabelerError(faults)
    return tuple(weights)


def _unreadable(place: Place, text: str, expected: str) -> Finding:
    point = text.strip().replace(",", ".")
    return stop(
        "weight-unreadable",
        place,
        "this is not a weight",
        found=repr(text),
        expected=expected,
        hint=f"Write {point}" if "," in text and text.count(",") == 1 else "",
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


def weigh(
    ledger: Ledger,
    code: str,
    weights: Sequence[Weight],
    *,
    sure: bool = False,
    key: str | None = None,
) -> WeighIn:
    """Judge a lot by a sample of it, and keep the weigh-in with the lot.

    Args:
        ledger: an open ledger.
        code: the lot's code.
        weights: what the pieces weigh.
        sure: take weights that look like a slip as they are.
        key: names this request, so that making it twice keeps one weigh-in.

    Raises:
        LabelerError: if there is no such lot, a weight is questioned, or the sample cannot be
            judged.
    """
    lot = find(ledger, code)
    label = snapshot_of(ledger, lot).weight
    if not sure and (questions := question(label, weights)):
        raise LabelerError(questions)
    judgement = judge(label, weights, lot.count)
    readings = [str(weight) for weight in weights]

    def keep(connection: Connection) -> int:
        number = lot_id(connection, lot.code)
        result = connection.execute(
            weighings.insert().values(
                lot_id=number,
                label=str(label),
                readings=readings,
                verdict=judgement.verdict,
                report=JUDGEMENT.write(judgement),
                **ledger.stamp(),
            )
        )
        enter(connection, ledger, "weigh", number, verdict=judgement.verdict, weights=readings)
        return int(result.inserted_primary_key[0])  # type: ignore[index]

    request = Request.of("weigh", key, lot=lot.code, weights=readings)
    kept = once(ledger, request, keep)
    return next(each for each in weigh_ins(ledger, lot.code, kept))


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
            )
            for row in connection.execute(query)
        ]

    return ledger.read(look)
