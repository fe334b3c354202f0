"""The weigh-in against Handbook 133's tables, Student's t and worked vectors."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import stdtrit

from labeler.catalog.model import Product
from labeler.findings import LabelerError
from labeler.ledger import weigh as weighing
from labeler.ledger.assign import Batch, assign, hold, release
from labeler.ledger.lots import find
from labeler.ledger.open import open_ledger
from labeler.ledger.store import Ledger, entries
from labeler.ledger.weigh import (
    Sample,
    allowed_variation,
    correction_factor,
    judge,
    question,
    read_weights,
    sample_size,
    split_weights,
    weigh,
    weigh_ins,
)
from labeler.units import Weight

DAY = date(2026, 11, 25)
THREE_EIGHTHS = Weight(Fraction(3, 8), "oz")


def grams(value: str | Fraction) -> Weight:
    return Weight(Fraction(value), "g")


def around(label: str, errors: Sequence[str]) -> list[Weight]:
    return [grams(Fraction(label) + Fraction(error)) for error in errors]


# Constructed for this test and recomputed below with the standard library and SciPy; the handbook
# prints no numeric example that could be reached.
V1 = ["-0.4", "0.2", "-0.1", "0.3", "-0.6", "0.1", "-0.2", "0.0", "0.4", "-0.3", "0.1", "-0.5"]
V2 = [
    "-0.9",
    "-0.4",
    "-0.6",
    "-0.2",
    "-0.8",
    "-0.5",
    "-0.7",
    "-0.3",
    "-0.1",
    "-0.6",
    "-0.4",
    "-0.5",
]


def test_a_light_average_within_the_error_limit_passes() -> None:
    found = judge(grams("10.6"), around("10.6", V1), lot_size=100)
    assert found.sample_asked == found.sample == 12
    assert found.mean_error == pytest.approx(-0.0833, abs=5e-5)
    assert found.deviation == pytest.approx(0.3215, abs=5e-5)
    assert found.error_limit == pytest.approx(0.2041, abs=5e-5)
    assert found.allowed_variation == pytest.approx(1.06)
    assert (found.beyond, found.verdict) == ((), "pass")


def test_a_light_average_beyond_the_error_limit_fails() -> None:
    found = judge(grams("7.0"), around("7.0", V2), lot_size=100)
    assert found.mean_error == pytest.approx(-0.5)
    assert found.deviation == pytest.approx(0.2374, abs=5e-5)
    assert found.error_limit == pytest.approx(0.1508, abs=5e-5)
    assert found.beyond == pytest.approx((6.1, 6.2))  # 6.3 is light by just the MAV of 0.70 g
    assert found.is_light
    assert found.has_too_light
    assert found.verdict == "fail"


@pytest.mark.siege
def test_the_vectors_agree_with_a_t_test() -> None:
    """A mean is beyond the error limit just where a two-sided 95 % t-test says it is low."""
    from scipy import stats  # takes longer to load than all the tests here to run

    for errors, light in ((V1, False), (V2, True)):
        test = stats.ttest_1samp([float(error) for error in errors], 0.0)
        assert bool(test.statistic < 0 and test.pvalue < 0.05) is light


@pytest.mark.parametrize("pieces", range(2, 49))
def test_the_correction_factors_are_students_t(pieces: int) -> None:
    """SciPy's quantile; NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2."""
    exact = stdtrit(pieces - 1, 0.975) / math.sqrt(pieces)
    assert correction_factor(pieces) == pytest.approx(exact, abs=0.0005001)


def test_one_piece_has_no_correction_factor() -> None:
    assert correction_factor(1) is None


@pytest.mark.parametrize(
    ("lot", "sample"),
    [
        # NIST Handbook 133, Table 2-1, Category A (from memory): both sides of every edge.
        (1, 1), (2, 2), (11, 11), (12, 12), (250, 12), (251, 24), (3200, 24), (3201, 48),
        (100_000, 48),
    ],
)  # fmt: skip
def test_the_sample_grows_with_the_lot(lot: int, sample: int) -> None:
    assert sample_size(lot) == sample


@pytest.mark.parametrize(
    ("label", "allowed"),
    [
        # NIST Handbook 133, Table 2-5 (from memory): both sides of every edge.
        ("1.7718", "0.17718"), ("35.99", "3.599"), ("36", "3.6"), ("53.9", "3.6"), ("54", "5.4"),
        ("80.9", "5.4"), ("81", "7.2"), ("116.9", "7.2"), ("117", "9.0"), ("153.9", "9.0"),
        ("154", "10.8"), ("207.9", "10.8"), ("208", "12.7"), ("262.9", "12.7"), ("263", "14.5"),
        ("316.9", "14.5"), ("317", "16.3"), ("380.9", "16.3"), ("381", "18.1"), ("425.9", "18.1"),
        ("426", "19.9"), ("488.9", "19.9"), ("489", "21.7"), ("570.9", "21.7"),
    ],
)  # fmt: skip
def test_what_one_piece_may_lack(label: str, allowed: str) -> None:
    assert allowed_variation(Fraction(label)) == Fraction(allowed)


def test_the_printed_grams_are_the_printed_pounds() -> None:
    """The handbook prints both; 1 lb = 453.592 g (16 CFR 500.19), cut to a tenth of a gram."""
    pounds = [0.008, 0.012, 0.016, 0.020, 0.024, 0.028, 0.032, 0.036, 0.040, 0.044, 0.048]
    rows = tomllib.loads(Path(weighing.__file__).with_name("handbook133.toml").read_text())[
        "allowed"
    ]
    assert [row["grams"] for row in rows["rows"][1:]] == [
        math.floor(each * 4535.92 + 1e-9) / 10 for each in pounds
    ]


def test_a_label_beyond_the_table_is_told() -> None:
    with pytest.raises(LabelerError) as error:
        allowed_variation(Fraction(571))
    assert error.value.findings[0].rule == "weigh-label-heavy"


@pytest.mark.parametrize(("light", "verdict"), [(1, "pass"), (2, "fail")])
def test_one_of_48_pieces_may_be_beyond_the_variation(light: int, verdict: str) -> None:
    errors = ["-1.1"] * light + ["0.1"] * (48 - light)
    assert judge(grams("10"), around("10", errors), lot_size=3201).verdict == verdict


@pytest.mark.parametrize("lot", [12, 250, 251, 3200])
def test_in_smaller_lots_no_piece_may_be(lot: int) -> None:
    pieces = sample_size(lot)
    errors = ["-1.01"] + ["0.2"] * (pieces - 1)
    assert judge(grams("10"), around("10", errors), lot).verdict == "fail"
    errors = ["-1"] + ["0.2"] * (pieces - 1)
    assert judge(grams("10"), around("10", errors), lot).verdict == "pass"


def test_a_lot_of_one_is_held_to_the_variation_only() -> None:
    assert judge(grams("10"), [grams("9.0")], 1).verdict == "pass"
    assert judge(grams("10"), [grams("8.99")], 1).verdict == "fail"


def test_two_alike_and_light_fail() -> None:
    """Without scatter the error limit is nought."""
    assert judge(grams("10"), [grams("9.9")] * 2, 2).verdict == "fail"


def test_too_few_ask_for_more_unless_all_is_lost() -> None:
    assert judge(grams("10"), [grams("10")] * 5, 100).verdict == "weigh more"
    assert judge(grams("10"), [grams("9.9"), grams("9.9")], 100).verdict == "weigh more"
    assert judge(grams("10"), [grams("8"), grams("10")], 100).verdict == "fail"


@pytest.mark.parametrize(("weighed", "lot"), [(0, 12), (13, 12), (49, 5000)])
def test_a_sample_that_cannot_be_is_refused(weighed: int, lot: int) -> None:
    with pytest.raises(LabelerError) as error:
        judge(grams("10"), [grams("10")] * weighed, lot)
    assert error.value.findings[0].rule == "weigh-sample"


@given(
    st.lists(st.integers(900, 1100), min_size=12, max_size=12),
    st.integers(-20, 20),
)
def test_the_label_is_judged_the_same_wherever_it_stands(weights: list[int], shift: int) -> None:
    """Errors decide, not weights: shifted together, label and weights give the same limits."""
    plain = judge(grams("10"), [grams(Fraction(each, 100)) for each in weights], 100)
    moved = judge(
        grams(Fraction(10 + shift / 4)),
        [grams(Fraction(each, 100) + Fraction(shift, 4)) for each in weights],
        100,
    )
    assert moved.mean_error == plain.mean_error
    assert moved.error_limit == plain.error_limit
    assert moved.is_light is plain.is_light


def test_the_sentence_says_what_a_maker_wants_to_know() -> None:
    assert judge(grams("7.0"), around("7.0", V2), 100).sentences() == (
        "Held: the lot is not to be sold as 7.00 g, for too many are too light. "
        "12 of 100 weighed: on average 6.50 g, 0.50 g under the 7.00 g stated, more than the "
        "sample error limit of 0.15 g. 6.10 g, 6.20 g are light by more than the 0.70 g that a "
        "single piece may lack (none may). A head's nominal weight is no statement "
        "of net contents; this weigh-in is the maker's own check and no official inspection."
    )
    more = judge(grams("10"), [grams("10.1")] * 5, 100).sentences()
    assert "5 of 100 weighed: on average 10.10 g, 0.10 g over the 10.00 g stated." in more
    assert more.startswith("Not judged yet: weigh 7 more of the lot, taken at random.")


@pytest.mark.parametrize(
    ("typed", "slip"),
    [
        ("0.37", "this looks like ounces taken for grams"),
        ("10.6 oz", "this looks like grams taken for ounces"),
        ("106", "this looks like a decimal point one place off"),
        ("1.06", "this looks like a decimal point one place off"),
        ("1063", "this looks like a decimal point left out"),
        ("10600", "this looks like milligrams taken for grams"),
        ("164", "this looks like grains taken for grams"),
        ("25", "this is far from the weight stated"),
        ("5.2", "this is far from the weight stated"),
    ],
)
def test_a_slip_of_the_unit_is_questioned(typed: str, slip: str) -> None:
    (finding,) = question(THREE_EIGHTHS, read_weights(["10.4", typed, "10.7"]))
    assert finding.message == slip
    assert finding.place.key.startswith("weight 2")
    assert finding.expected == "about 3/8 oz (10.63 g)"


@pytest.mark.parametrize("typed", ["5.4", "9", "13", "21", "0.37 oz", "3/8 oz"])
def test_the_scatter_of_hand_pouring_is_not(typed: str) -> None:
    assert question(THREE_EIGHTHS, read_weights([typed])) == ()


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("11.2 11.4 11.3", ["11.2 g", "11.4 g", "11.3 g"]), ("11,9", ["11.9 g"]),
        ("11,2 11,4\n11,3", ["11.2 g", "11.4 g", "11.3 g"]), ("0,375", ["0.375 g"]),
        ("11.2,11.4, 11.3;", ["11.2 g", "11.4 g", "11.3 g"]), ("11, 12", ["11 g", "12 g"]),
        ("3/8 oz 1 1/2 oz 10.6g", ["3/8 oz", "1 1/2 oz", "10.6 g"]), (" ", []),
    ],
)  # fmt: skip
def test_several_weights_and_a_decimal_comma_are_read(typed: str, read: list[str]) -> None:
    assert [str(weight) for weight in read_weights(split_weights(typed))] == read


@pytest.mark.parametrize("typed", ["11,12,13", "1,234", "11.2 heavy"])
def test_what_may_be_two_weights_or_one_is_asked(typed: str) -> None:
    with pytest.raises(LabelerError, match="weight-unreadable"):
        read_weights(split_weights(typed))


def test_all_slips_of_a_kind_are_one_question() -> None:
    (finding,) = question(THREE_EIGHTHS, read_weights(["0.37", "0.38"]))
    assert finding.found == "weight 1, 0.37 g; weight 2, 0.38 g"


def test_every_weight_that_cannot_be_read_is_told_at_once() -> None:
    with pytest.raises(LabelerError) as error:
        read_weights(["10.4", "10,700", "heavy", "-3", "nan", ""])
    assert [finding.place.key for finding in error.value.findings] == [
        "weight 2", "weight 3", "weight 4", "weight 5", "weight 6",
    ]  # fmt: skip
    assert error.value.findings[0].hint == "Write 10.700, or 10700."


def test_a_scale_that_reads_ounces_may_be_said_once() -> None:
    assert read_weights(["0.375", "10.6 g"], unit="oz") == (THREE_EIGHTHS, grams("10.6"))


def test_a_weigh_in_is_kept_with_its_lot(ledger: Ledger, melon: Product) -> None:
    lot = assign(ledger, Batch(melon, 12, DAY)).code
    weights = read_weights(["10.6"] * 6 + ["0.38 oz"] * 6)
    first = weigh(ledger, lot, weights, key="scale 1")
    assert weigh(ledger, lot, weights, key="scale 1") == first
    assert (first.lot, first.label, first.weights, first.who) == (
        lot, THREE_EIGHTHS, weights, "ann",
    )  # fmt: skip
    assert first.judgement == judge(THREE_EIGHTHS, weights, 12)
    second = weigh(ledger, lot, read_weights(["9"] * 12), sample=Sample("other scale"))
    assert second.judgement.verdict == "fail"
    assert weigh_ins(ledger, lot) == [first, second]


def test_a_questioned_weight_is_kept_only_by_one_who_is_sure(
    ledger: Ledger, melon: Product
) -> None:
    lot = assign(ledger, Batch(melon, 2, DAY)).code
    weights = read_weights(["0.37", "10.6"])
    with pytest.raises(LabelerError) as error:
        weigh(ledger, lot, weights)
    assert error.value.findings[0].rule == "weight-questioned"
    assert weigh_ins(ledger, lot) == []
    assert weigh(ledger, lot, weights, sure=True).judgement.verdict == "fail"


def test_weights_of_a_lot_are_one_sample_that_grows(ledger: Ledger, melon: Product) -> None:
    lot = assign(ledger, Batch(melon, 24, DAY)).code
    first = weigh(ledger, lot, read_weights(["10.6"] * 3), key="scale")
    assert first.judgement.sentences("3/8 oz").startswith("Not judged yet: weigh 9 more")
    whole = weigh(ledger, lot, read_weights(["10.7"] * 9))
    assert (whole.judgement.sample, whole.judgement.verdict) == (12, "pass")
    assert whole.judgement.sentences("3/8 oz").startswith("All 24 may be sold as 3/8 oz. ")
    assert weigh(ledger, lot, read_weights(["10.6"] * 3), key="scale") == first
    assert len(whole.weights) == 9


def test_a_sample_is_closed_and_begun_anew_for_a_reason(ledger: Ledger, melon: Product) -> None:
    lot = assign(ledger, Batch(melon, 24, DAY)).code
    weigh(ledger, lot, read_weights(["10.6"] * 3))
    assert weigh(ledger, lot, (), sample=Sample(close=True)).closed
    with pytest.raises(LabelerError) as error:
        weigh(ledger, lot, read_weights(["10.6"]))
    assert error.value.findings[0].rule == "weigh-closed"
    fresh = weigh(ledger, lot, read_weights(["10.7"]), sample=Sample("the scale was off"))
    assert fresh.judgement.sample == 1
    assert weigh(ledger, lot, read_weights(["10.7"])).judgement.sample == 2
    assert [len(each.weights) for each in weigh_ins(ledger, lot)] == [3, 0, 1, 1]


def test_a_lot_that_fails_is_held_and_a_better_sample_does_not_release_it(
    ledger: Ledger, melon: Product
) -> None:
    lot = assign(ledger, Batch(melon, 24, DAY)).code
    failed = weigh(ledger, lot, read_weights(["9.9"] * 12))
    assert failed.judgement.sentences("3/8 oz").startswith("Held: the lot is not to be sold as")
    held = find(ledger, lot).held
    assert held
    assert held.why.startswith("failed weigh-in ")
    weigh(ledger, lot, read_weights(["10.7"] * 12), sample=Sample("other scale"))
    assert find(ledger, lot).held == held
    release(ledger, lot, "weighed on two scales")
    assert find(ledger, lot).held is None
    with pytest.raises(LabelerError) as error:
        release(ledger, lot, " ")
    assert error.value.findings[0].rule == "ledger-text"
    hold(ledger, lot, "hooks break")
    weigh(ledger, lot, read_weights(["9.9"]), sample=Sample("one more"))
    assert [entry.what for entry in entries(ledger, lot=lot)][-2:] == ["hold", "weigh"]


@given(st.lists(st.lists(st.integers(1030, 1100), min_size=1, max_size=5), max_size=4))
def test_the_sample_is_judged_as_if_it_were_weighed_at_once(
    book: Ledger, melon: Product, parts: list[list[int]]
) -> None:
    lot = assign(book, Batch(melon, 24, DAY)).code
    taken: list[Weight] = []
    for part in parts:
        weights = [grams(Fraction(each, 100)) for each in part]
        taken += weights
        assert weigh(book, lot, weights).judgement == judge(THREE_EIGHTHS, taken, 24)


@pytest.fixture(scope="module")
def book(new_folder: Callable[[], Path]) -> Iterator[Ledger]:
    """A ledger that many examples write in."""
    with open_ledger(new_folder()) as opened:
        yield opened
