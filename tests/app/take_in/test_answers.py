"""The five questions: answered in a maker's words, said back, and never guessed at."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from contextlib import suppress
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labeler.app.answers import (
    Alloy,
    Answers,
    Bagging,
    MakerAddress,
    Origins,
    answers_file,
    ask,
    read_answers,
)
from labeler.catalog.read import examine
from labeler.catalog.structure import questions, read_source
from labeler.disclosures import rules
from labeler.findings import LabelerError
from labeler.units import Length, Weight

STARTER = Path(__file__).parents[3] / "layouts" / "starter" / "catalog.toml"

BISMUTH_TIN = {"bismuth": Fraction(58, 100), "tin": Fraction(42, 100)}

UNDERSTOOD: list[tuple[str, str, Any]] = [
    ("maker", "Ann's Jigs, 3 Mill Race, Low Ferry, WI 54899",
     MakerAddress("Ann's Jigs", "Low Ferry", "54899", "US", "3 Mill Race", "WI")),
    ("maker", "Reed, Rush & Co, PO Box 3, Low Ferry, Wisconsin 54899-0003, USA",
     MakerAddress("Reed, Rush & Co", "Low Ferry", "54899-0003", "US", "PO Box 3", "WI")),
    ("maker", "Ann's Jigs, Low Ferry WI 54899",
     MakerAddress("Ann's Jigs", "Low Ferry", "54899", "US", "", "WI")),
    ("maker", "A, 1 B St, Town, West Virginia 25301",
     MakerAddress("A", "Town", "25301", "US", "1 B St", "WV")),
    ("maker", "A, 1 B St, Albany, Georgia 31701",
     MakerAddress("A", "Albany", "31701", "US", "1 B St", "GA")),
    ("maker", "Jigs à Moi, 12 rue du Moulin, Trois-Rivières QC G9A 1A1",
     MakerAddress("Jigs à Moi", "Trois-Rivières", "G9A 1A1", "CA", "12 rue du Moulin", "QC")),
    ("maker", "Alpenjig, Gasse 3, 8010 Graz, Austria",
     MakerAddress("Alpenjig", "Graz", "8010", "AT", "Gasse 3")),
    ("sold", "Wisconsin, Minnesota and Canada", ("US", "US-WI", "US-MN", "CA")),
    ("sold", "everywhere in the US", ("US", *rules.parts_of("US"))),
    ("sold", "all 50 states + the UK", ("US", *rules.parts_of("US"), "GB")),
    ("sold", "all provinces", ("CA", *rules.parts_of("CA"))),
    ("sold", "minn., Mass. & Calif.", ("US", "US-MN", "US-MA", "US-CA")),
    ("sold", "Wash. / N. Dak. / New Hamp.", ("US", "US-WA", "US-ND", "US-NH")),
    ("sold", "MN WI IA", ("US", "US-MN", "US-WI", "US-IA")),
    ("sold", "Washington D.C. and Va.", ("US", "US-DC", "US-VA")),
    ("sold", "B.C., Que. and Québec", ("CA", "CA-BC", "CA-QC")),
    ("sold", "Ontario, Canada", ("CA", "CA-ON")),
    ("sold", "US + Canada", ("US", "CA")),
    ("sold", "Newfoundland and Labrador", ("CA", "CA-NL")),
    ("sold", "Trinidad & Tobago; the Netherlands", ("TT", "NL")),
    ("maker", "A, 1 B St, Springfield, Mass. 01101",
     MakerAddress("A", "Springfield", "01101", "US", "1 B St", "MA")),
    ("maker", "A, 1 B St, Longueuil (Qué.) J4H 1A1",
     MakerAddress("A", "Longueuil", "J4H 1A1", "CA", "1 B St", "QC")),
    ("sold", "WI", ("US", "US-WI")),
    ("sold", "US-ME; Quebec", ("US", "US-ME", "CA", "CA-QC")),
    ("heads", "lead", Alloy("Lead")),
    ("heads", "Lead heads", Alloy("Lead")),
    ("heads", "lead-free: bismuth-tin", Alloy("Bismuth-tin")),
    ("heads", "bismuth 58 %, tin 42 %", Alloy("Bismuth-tin", BISMUTH_TIN)),
    ("heads", "58% bismuth and 42% tin", Alloy("Bismuth-tin", BISMUTH_TIN)),
    ("heads", "lead, 1/4, 3/8 and 1 1/2 oz",
     Alloy("Lead", {}, tuple(map(Weight.parse, ("1/4 oz", "3/8 oz", "1 1/2 oz"))))),
    ("heads", "bismuth 58 %, tin 42 %, 7 g",
     Alloy("Bismuth-tin", BISMUTH_TIN, (Weight.parse("7 g"),))),
    ("origin", "hooks Japan, the rest USA", Origins("JP", "US", "US")),
    ("origin", "hooks from Japan and skirts from China", Origins("JP", None, "CN")),
    ("origin", "Japan", Origins("JP", "JP", "JP")),
    ("origin", "not known", Origins("", "", "")),
    ("origin", "hooks: not known; materials: USA", Origins("", "US", "US")),
    ("bags", "clear, 1 a bag, 3 x 5 in",
     Bagging(True, 1, (Length.from_inches(3), Length.from_inches(5)))),
    ("bags", "clear 2 jigs per bag 75x125mm",
     Bagging(True, 2, (Length.from_mm(75), Length.from_mm(125)))),
    ("bags", "not clear, a dozen", Bagging(False, 12)),
    ("bags", "opaque", Bagging(False)),
    ("bags", "two to a bag", Bagging(None, 2)),
]  # fmt: skip


@pytest.mark.parametrize(("name", "text", "wanted"), UNDERSTOOD)
def test_an_answer_is_understood_and_said_back(name: str, text: str, wanted: object) -> None:
    answers = read_answers({name: text})
    assert getattr(answers, name) == wanted
    (said,) = answers.said_back()
    assert (said.rule, said.place.key) == ("answer-read", name)


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("maker", "Ann's Jigs", "commas"),
        ("maker", "A, 1 B St, Town, WI", "the postcode is missing"),
        ("maker", "A, 1 B St, Springfield, 54899", "the country is missing"),
        ("sold", "CA", "California or Canada"),
        ("sold", "Wisconson", "Did you mean 'Wisconsin'?"),
        ("sold", "everywhere but Maine", "everywhere but Maine"),
        ("sold", "everywhere", "all 50 states"),
        ("sold", "locally", "your own state"),
        ("sold", "Wisconsin, online", "all that you ship to"),
        ("sold", "the Midwest", "one by one"),
        ("sold", "MN", "Minnesota or Mongolia"),
        ("sold", "US, DE, FR", "Delaware or Germany"),
        ("sold", "Washington, DC", "Washington State or Washington D.C."),
        ("sold", "MN-WI", '"MN-WI" stands'),
        ("sold", "US-ZZ", '"US-ZZ" stands'),
        ("sold", "in oh il", '"in oh il" stands'),
        ("sold", "WISCONSIN OR IOWA", "Oregon by its name"),
        ("sold", "Portland Ore.", '"Portland Ore." stands'),
        ("heads", "lead-free", "does not say what is in it"),
        ("heads", "yes", "a metal or alloy"),
        ("heads", "lead or tungsten", "one alloy"),
        ("heads", "bismuth 80 %, tin 42 %", "at most 100 %"),
        ("origin", "Japan and USA", "one country"),
        ("origin", "abroad", "one country"),
        ("bags", "clear and opaque", "not both"),
        ("bags", "clear, 2 or 3", "one number"),
        ("bags", "clear, 3 x 5", "with its unit"),
    ],
)
def test_what_is_not_understood_is_refused_with_the_question(
    name: str, text: str, says: str
) -> None:
    with pytest.raises(LabelerError) as refused:
        read_answers({name: text})
    (finding,) = refused.value.findings
    assert (finding.rule, finding.place.key) == ("answer-unread", name)
    assert says in str(finding)
    assert questions()[name].asks in finding.hint


MAKERS = {
    "US": "A, 1 B St, Town, WI 54899",
    "CA": "A, 1 B St, Town, ON K1A 0B1",
}


@pytest.mark.parametrize(
    ("maker", "text", "wanted"),
    [
        ("US", "MN", ("US", "US-MN")),
        ("US", "in, de, ga", ("US", "US-IN", "US-DE", "US-GA")),
        ("US", "nationwide", ("US", *rules.parts_of("US"))),
        ("CA", "SK, PE", ("CA", "CA-SK", "CA-PE")),
        ("CA", "across Canada", ("CA", *rules.parts_of("CA"))),
    ],
)
def test_where_the_maker_is_tells_what_two_letters_mean(
    maker: str, text: str, wanted: tuple[str, ...]
) -> None:
    assert read_answers({"maker": MAKERS[maker], "sold": text}).sold == wanted


@pytest.mark.parametrize("text", ["MN", "SK, PE", "nationwide", "de, ga"])
def test_where_nothing_tells_it_is_asked(text: str) -> None:
    with pytest.raises(LabelerError):
        read_answers({"sold": text})


OLD_ABBREVIATIONS = """
Ala. AL, Ariz. AZ, Ark. AR, Calif. CA, Colo. CO, Conn. CT, Del. DE, Fla. FL, Ga. GA, Ill. IL,
Ind. IN, Kan. KS, Ky. KY, La. LA, Md. MD, Mass. MA, Mich. MI, Minn. MN, Miss. MS, Mo. MO, Mont. MT,
Neb. NE, Nev. NV, N.H. NH, N.J. NJ, N.M. NM, N.Y. NY, N.C. NC, N.D. ND, Okla. OK, Ore. OR, Pa. PA,
R.I. RI, S.C. SC, S.D. SD, Tenn. TN, Vt. VT, Va. VA, Wash. WA, W.Va. WV, Wis. WI, Wyo. WY
"""
"""Source: Associated Press Stylebook, "state names", with the Postal Service's codes."""
SHORT = dict(pair.split() for pair in OLD_ABBREVIATIONS.split(","))


@given(st.data())
def test_every_way_to_write_a_state_is_that_state_or_asked_about(data: st.DataObject) -> None:
    abbreviation = data.draw(st.sampled_from(sorted(SHORT)))
    code = f"US-{SHORT[abbreviation]}"
    changes: list[Callable[[str], str]] = [
        str, str.lower, str.upper, lambda text: text.replace(".", ". ")
    ]  # fmt: skip
    change = st.sampled_from(changes)
    ways = [abbreviation, rules.part_name(code), code]
    text = data.draw(change)(data.draw(st.sampled_from(ways))).strip()
    for written in (text, f"{text}; Ontario", f"Iowa and {text}", f"Texas {text}"):
        assert code in (read_answers({"sold": written}).sold or ())
    with suppress(LabelerError):  # without its full stop it may be a country's code, and is asked
        bare = text.replace(".", "").strip()
        assert code in (read_answers({"sold": bare}).sold or ())


@given(st.lists(st.sampled_from(sorted({
    *SHORT, *SHORT.values(), "Maine", "Canada", "CA", "UK", "in", "or", "and", "the",
    "online", "Elsewhere", "N.S.", "new", "york",
})), min_size=1, max_size=5), st.sampled_from([" ", ", ", " / ", " and "]))  # fmt: skip
def test_no_place_of_an_answer_is_left_out_in_silence(words: list[str], between: str) -> None:
    try:
        sold = read_answers({"sold": between.join(words)}).sold or ()
    except LabelerError:
        return
    assert "online" not in words
    assert "Elsewhere" not in words
    named = {SHORT.get(word, word) for word in words if word in {*SHORT, *SHORT.values()}}
    assert {f"US-{code}" for code in named} <= {*sold, "US-OR"} | {
        code for code in sold if "-" not in code
    }


@given(st.dictionaries(st.sampled_from(sorted(questions())), st.text(max_size=60)))
def test_any_text_is_an_answer_or_a_refusal(given: dict[str, str]) -> None:
    with suppress(LabelerError):  # any other error is a fault of ours
        assert all(str(finding) for finding in read_answers(given).said_back())


def test_the_example_of_every_question_is_an_answer() -> None:
    for name, question in questions().items():
        for text in question.examples:
            assert read_answers({name: text}) != Answers()


@pytest.mark.parametrize("sign", [":", "="])
def test_answers_are_read_from_a_file_as_a_maker_writes_one(tmp_path: Path, sign: str) -> None:
    file = tmp_path / "answers.txt"
    file.write_text(f"# mine\nSold {sign} Wisconsin\n\nheads{sign}lead\n", "utf-8")
    assert answers_file(file) == {"sold": "Wisconsin", "heads": "lead"}
    file.write_text('maker = "Ann\'s \\"Best\\", 1 B St" # a remark\n', "utf-8")
    assert answers_file(file) == {"maker": 'Ann\'s "Best", 1 B St'}
    file.write_text("hedas: lead\nmore\nsold: WI\nsold: MN\n", "utf-8")
    with pytest.raises(LabelerError) as refused:
        answers_file(file)
    assert [finding.place.line for finding in refused.value.findings] == [1, 2, 4]
    assert "Did you mean 'heads'?" in str(refused.value)


def test_a_question_is_asked_until_its_answer_is_understood() -> None:
    typed = iter(["CA", "Canada", "", "", ""])
    said: list[str] = []
    answers = ask({"maker": ""}, lambda asks, example: next(typed), lambda f: said.append(f.rule))
    assert answers == {"maker": "", "sold": "Canada", "heads": "", "origin": "", "bags": ""}
    assert said == ["answer-unread", "answer-read"]


def test_what_is_not_answered_stops_every_print_with_its_question_once(tmp_path: Path) -> None:
    text = STARTER.read_text("utf-8")
    for old, new in (
        ('alloy = "lead"', 'alloy = "?"'),
        ('markets = ["US", "US-WI"]', 'markets = "?"'),
        ('origin = "US"', 'origin = "?"'),
        ('name = "Your Business Name"', 'name = "?"'),
    ):
        assert old in text
        text = text.replace(old, new)
    (tmp_path / "catalog.toml").write_text(text, "utf-8")
    catalog, findings = examine(tmp_path)
    assert catalog is None
    assert [finding.rule for finding in findings] == ["not-answered"] * 4
    by_key = {finding.place.key: finding for finding in findings}
    assert set(by_key) == {
        "maker.name", "sale.markets", "materials.lead.origin", "heads.ball.alloy",
    }  # fmt: skip
    origin = by_key["materials.lead.origin"]
    assert origin.message == questions()["origin"].asks.rstrip(".")
    assert "materials.thread.origin" in origin.found
    line = text.splitlines()[(origin.place.line or 0) - 1]
    assert line == 'origin = "?"'


def test_every_key_of_a_question_is_one_that_the_catalog_knows() -> None:
    """Held against the starter, which has them all."""
    starter = tomllib.loads(STARTER.read_text("utf-8"))
    assert read_source(STARTER.parent).data == starter
    for question in questions().values():
        for keys in question.keys:
            table = keys.partition(".")[0]
            assert table in starter or table == "spreadsheet"


def test_states_stand_beside_states_and_shares_without_their_sign_are_asked_for() -> None:
    assert read_answers({"sold": "WI & MN"}).sold == ("US", "US-WI", "US-MN")
    asked = {"sold": "the midwest", "heads": "bismuth 58, tin 42"}
    with pytest.raises(LabelerError) as told:
        read_answers(asked)
    wanted = {each.place.key: each.expected for each in told.value.findings}
    assert "Did you mean" not in wanted["sold"]
    assert "bismuth 58 %, tin 42 %" in wanted["heads"]
