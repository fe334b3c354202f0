"""The five questions of the take-in, and the answers to them as makers write them.

Each is answered in one line of plain words, the same on a terminal, as an option and in a file.
What is understood is said back; what is not is refused by name, and nothing is filled in that was
not said: all of it stands on labels, or decides what law asks of them.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Container, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from fractions import Fraction
from pathlib import Path

from labeler.catalog.casting import metal_density
from labeler.catalog.model import LEAD, means
from labeler.catalog.structure import questions
from labeler.disclosures import rules
from labeler.files import read_file
from labeler.findings import (
    Finding,
    LabelerError,
    Place,
    as_written,
    did_you_mean,
    nearest,
    note,
    shown,
    stop,
)
from labeler.units import Length, Weight, print_decimal

NOT_KNOWN = ""
"""The answer of one who was asked and does not know; None is no answer."""


@dataclass(frozen=True, slots=True)
class MakerAddress:
    """Who makes the jigs, and where."""

    name: str
    city: str
    postcode: str
    country: str
    street: str = ""
    state: str = ""

    def __str__(self) -> str:
        place = " ".join(filter(None, (self.state, self.postcode)))
        country = rules.country(self.country)
        return ", ".join(filter(None, (self.name, self.street, self.city, place, country)))


@dataclass(frozen=True, slots=True)
class Alloy:
    """What heads are cast from."""

    name: str
    composition: Mapping[str, Fraction] = field(default_factory=dict)
    """Substance to its share by mass, where shares were given."""
    weights: tuple[Weight, ...] = ()
    """What heads are made in, for a spreadsheet that says no weight."""

    def __str__(self) -> str:
        shares = ", ".join(f"{name} {percent(part)}" for name, part in self.composition.items())
        made = f"{self.name} ({shares})" if shares else self.name
        return ", ".join((made, *map(str, self.weights)))


@dataclass(frozen=True, slots=True)
class Origins:
    """Countries of origin by their codes; `NOT_KNOWN`, or None for what was not said."""

    hooks: str | None = None
    metal: str | None = None
    """Of the heads."""
    skirts: str | None = None

    def __str__(self) -> str:
        said = {"hooks": self.hooks, "metal": self.metal, "skirts": self.skirts}
        return ", ".join(
            f"{what} {rules.country(code) if code else 'not known'}"
            for what, code in said.items()
            if code is not None
        )


@dataclass(frozen=True, slots=True)
class Bagging:
    """The bag, and how many jigs go into it; None for what was not said."""

    clear: bool | None = None
    pack: int | None = None
    size: tuple[Length, Length] | None = None

    def __str__(self) -> str:
        kind = {True: "clear", False: "opaque", None: "clear or opaque not said"}[self.clear]
        count = f"{self.pack} a bag" if self.pack else "how many a bag not said"
        size = " x ".join(map(str, self.size)) if self.size else "size not known"
        return ", ".join((kind, count, size))


@dataclass(frozen=True, slots=True)
class Answers:
    """What a maker answered; None for what was not."""

    maker: MakerAddress | None = None
    sold: tuple[str, ...] | None = None
    """ISO 3166 codes of the places of sale."""
    heads: Alloy | None = None
    origin: Origins | None = None
    bags: Bagging | None = None

    def said_back(self) -> Iterator[Finding]:
        """Yield how each answer was understood."""
        for name in questions():
            if (answer := getattr(self, name)) is not None:
                said = _places_said(answer) if name == "sold" else str(answer)
                yield note("answer-read", Place(key=name), "understood as", found=said)


def percent(share: Fraction) -> str:
    """Return a share as the catalog writes it."""
    return f"{print_decimal(share * 100)} %"


def _places_said(codes: Sequence[str]) -> str:
    """Return places by their names, all states or provinces of a country as one."""
    said = list(codes)
    for country, whole in (("US", "all 50 states"), ("CA", "all 13 provinces and territories")):
        if set(parts := rules.parts_of(country)) <= set(said):
            said[said.index(parts[0])] = whole
            said = [code for code in said if code not in parts]
    return ", ".join(map(_place_name, said))


def _place_name(code: str) -> str:
    return rules.country(rules.part_name(code))


def read_answers(given: Mapping[str, str]) -> Answers:
    """Return the answers that stand in ``given``, by the questions' names; an empty one is none.

    Where the maker is tells which places two letters mean.

    Raises:
        LabelerError: with a finding for every answer that is not understood.
    """
    read: dict[str, object] = {}
    findings = []
    for name, question in questions().items():
        text = " ".join(given.get(name, "").split())
        if not text or text == "?":
            continue
        try:
            maker = read.get("maker")
            read[name] = (
                _read_sold(text, maker if isinstance(maker, MakerAddress) else None)
                if name == "sold" else _READERS[name](text)
            )  # fmt: skip
        except ValueError as error:
            findings.append(stop(
                "answer-unread", Place(key=name), "this answer is not understood",
                found=as_written(text), expected=str(error),
                hint=f"{question.asks}\n    Such as: {question.answer}",
            ))  # fmt: skip
    if findings:
        raise LabelerError(findings)
    return Answers(**read)  # type: ignore[arg-type]


LARGEST_ANSWERS = 100_000
"""Bytes; five lines of text are a few hundred."""


def answers_file(path: Path) -> dict[str, str]:
    """Return the answers in a file by the questions' names: ``maker = "..."`` or ``maker: ...``.

    Raises:
        LabelerError: if it can't be read, or a line answers none of the five.
    """
    raw = read_file(path, LARGEST_ANSWERS)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")
    given: dict[str, str] = {}
    faults = []
    for number, line in enumerate(text.splitlines(), 1):
        bare = line.strip()
        if not bare or bare.startswith("#"):
            continue
        named = re.fullmatch(r"\W*(\w+)\W*?\s*[:=]\s*(.*)", bare)
        name = named[1].casefold() if named else bare
        place = Place(file=path.name, line=number)
        if not named or name not in questions():
            faults.append(
                stop("answer-unknown", place, "this line answers none of the five questions",
                     found=shown(bare), expected=f"one of {', '.join(questions())}, then = and the "
                     "answer", hint=did_you_mean(name, list(questions())))
            )  # fmt: skip
        elif name in given:
            faults.append(stop("answer-unknown", place, f"{name} is answered twice"))
        else:
            given[name] = _unquoted(named[2])
    if faults:
        raise LabelerError(faults)
    return given


def _unquoted(text: str) -> str:
    """Return a value of a line, without the quotes and the comment that TOML has."""
    if text[:1] not in ("'", '"'):
        return text
    try:
        return str(tomllib.loads(f"answer = {text}")["answer"])
    except tomllib.TOMLDecodeError:
        return text.strip("'\"")


def ask(given: Mapping[str, str], prompt: Callable[[str, str], str],
        said: Callable[[Finding], None]) -> dict[str, str]:  # fmt: skip
    """Ask for what ``given`` lacks, question by question; return all that was answered.

    No answer is offered: each bears on safety or law. What is left empty stays open.

    Args:
        given: what was answered already.
        prompt: shows a question and an example of an answer; returns what was typed.
        said: gets what was understood, or why an answer was not.
    """
    answers = dict(given)
    for name, question in questions().items():
        while name not in answers:
            text = prompt(question.asks, question.answer)
            try:
                known = {"maker": answers.get("maker", "")} if name == "sold" else {}
                understood = read_answers(known | {name: text})
            except LabelerError as error:
                for finding in error.findings:
                    said(finding)
                continue
            answers[name] = text
            for finding in understood.said_back():
                if finding.place.key == name:
                    said(finding)
    return answers


_ZIP = re.compile(r"\d{5}(?:-\d{4})?")
"""Source: USPS Publication 28, 2C."""
_CANADIAN = re.compile(r"[A-Z]\d[A-Z] ?\d[A-Z]\d", re.IGNORECASE)
"""Source: Canada Post, Addressing Guidelines, postal code."""


def _read_maker(text: str) -> MakerAddress:
    """Read ``Name, street, city, state ZIP, country``; street and country may be left out."""
    wanted = "name, street, city, state and ZIP, with commas between them, and the country at last"
    parts = [part.strip() for part in re.split(r"[,;]", text) if part.strip()]
    country = _country(parts[-1]) if len(parts) > 1 else ""
    parts = parts[:-1] if country else parts
    if len(parts) < 2:
        raise ValueError(wanted)
    state, postcode, city = _post_town(parts.pop())
    if len(parts) > 1 and not city and not state and _state(parts[-1]):
        state = parts.pop()
    if not country:
        country = "US" if _ZIP.fullmatch(postcode) and _state(state).startswith("US") else ""
        country = "CA" if _CANADIAN.fullmatch(postcode) else country
    city = city or (parts.pop() if len(parts) > 1 else "")
    if not (postcode and city and country):
        lacks = "postcode" if not postcode else "city" if not city else "country"
        raise ValueError(f"{wanted}; the {lacks} is missing")
    numbered = (at for at, part in enumerate(parts) if at and re.search(r"\d", part))
    begins = next(numbered, 1)
    name, street = ", ".join(parts[:begins]), ", ".join(parts[begins:])
    if _state(state).startswith(f"{country}-"):
        state = _state(state).partition("-")[2]
    return MakerAddress(
        name, city, postcode, country, street, state.upper() if len(state) == 2 else state
    )


def _post_town(text: str) -> tuple[str, str, str]:
    """Return state, postcode and city of an address's last line; what is not there is empty."""
    if found := re.fullmatch(rf"(?:(.*?)\s+)?({_ZIP.pattern}|{_CANADIAN.pattern})", text, re.I):
        words = (found[1] or "").split()
        for count in range(min(3, len(words)), 0, -1):
            if _state(state := " ".join(words[-count:])):
                return state, found[2].upper(), " ".join(words[:-count])
        return "", found[2].upper(), " ".join(words)
    if found := re.fullmatch(r"((?:[A-Z]{1,2}-)?\d[\d ]{2,6})\s+(\D+)", text):
        return "", found[1].strip(), found[2]
    if found := re.fullmatch(r"(\D+?)\s+([A-Z]{0,2}\d[A-Z\d]?\s?\d[A-Z\d]{0,3}[\d ]*)", text):
        return "", found[2].strip(), found[1]
    return "", text if re.fullmatch(r"[\d ]{3,9}", text) else "", ""


def _state(text: str) -> str:
    """Return the code of a state or province of North America; nothing if it is none."""
    found = [code for code in _readings(text) if "-" in code] or [rules.code_meant(text)]
    return found[0] if rules.is_part(found[0]) else ""


def _country(text: str) -> str:
    """Return the code of a country by its name or code; nothing if it is none."""
    plain = text.strip(" .")
    code = rules.code_meant(plain)
    if plain.casefold() == "georgia":
        return ""  # more often the state; GE is written for the country
    if not code and re.fullmatch("[A-Z]{2}", plain) and rules.country(plain) != plain:
        code = plain if not rules.is_state(plain) else ""
    return code if len(code) == 2 and code != "EU" else ""


def _words(text: str) -> list[str]:
    return [
        part.strip(" .") for part in re.split(r"[,;/&+]|\band\b|\bor\b", text) if part.strip(" .")
    ]


def _read_sold(text: str, maker: MakerAddress | None = None) -> tuple[str, ...]:
    """Read places by name, abbreviation or code; the country of a state is among them.

    Args:
        text: as the maker wrote it.
        maker: where she is, where that is known: in the United States MN is no Mongolia.

    Raises:
        ValueError: naming every word that is not understood; none is left out.
    """
    read: list[str | tuple[str, ...]] = []
    home = maker.country if maker else ""
    parts = re.split(r"[,;/|+()\n]|\s[-–—]\s", text.replace(chr(0x2019), "'"))
    for part in filter(None, (part.strip(" :") for part in parts)):
        if not _EVERYWHERE.fullmatch(part):
            read += _places_in(part)
        elif whole := _whole(part, home):
            read.append(whole)
        else:
            read.append(part)
    bare = {one for one in read if isinstance(one, str)}
    alone = {found[0] for found in map(_readings, bare) if len(found) == 1}
    named = {code for codes in read if not isinstance(codes, str) for code in codes}
    sure = {home} | {code.partition("-")[0] for code in alone | named if "-" in code}
    if "GB" in named or any("-" not in code for code in alone):
        sure = set()  # countries are written by their codes here, so DE may be Germany
    codes: dict[str, None] = {}
    wrong = [] if read else ["states and countries, with commas between them"]
    if text.isupper() and "OR" in bare and re.search(r"\w{3}", text):
        wrong.append("Oregon by its name, or a comma instead of OR")
    if ("DC" in bare or "US-DC" in named) and re.search(r"washington\s*,\s*d", text, re.I):
        wrong.append("Washington State or Washington D.C. instead of Washington, DC")
    for one in read:
        found = _meant(one, sure, maker) if isinstance(one, str) else one
        if isinstance(found, str):
            wrong.append(found)
        else:
            codes |= dict.fromkeys(
                code for each in found for code in (each.partition("-")[0], each)
            )
    if wrong:
        raise ValueError("; ".join(dict.fromkeys(wrong)))
    return tuple(codes)


_EVERYWHERE = re.compile(
    r"(?:(?:all|every|any|each|50|fifty)(?:\s+of)?(?:\s+the)?\s+)+(?:u\.?s\.?\s+)?states?"
    r"|all\s+(?:50|fifty)|(?:all|every|the\s+ten|10)\s+(?:the\s+)?(?:10\s+)?provinces?"
    r"|(?:everywhere|anywhere|all\s+over|all|across|throughout|the\s+whole(?:\s+of)?)"
    r"(?:\s+(?:in|of|over|across))*\s+(?:the\s+)?(?:country|u\.?s\.?a?\.?|united\s+states|"
    r"america|canada)(?:\s+of\s+america)?|(?:nation|country)[ -]?wide",
    re.IGNORECASE,
)
"""A whole country with all its parts, each of which may have rules of its own. Common practice."""


def _whole(text: str, home: str) -> tuple[str, ...]:
    """Return all the states or provinces that are meant; none where no country is told."""
    plain = text.casefold()
    if re.search("country|nation", plain):
        return rules.parts_of(home)
    return rules.parts_of("CA" if re.search("canada|provinc", plain) else "US")


_LEADING = re.compile(
    r"(?:(?:[Aa]ll|[Oo]nly|[Jj]ust|[Ee]verywhere|[Aa]nywhere|[Oo]ver|[Ii]n|[Oo]f|[Tt]he|to)\s+)*"
    r"(?:(?:[Ss]tate|[Pp]rovince|[Cc]ommonwealth)\s+of\s+)?"
)
_LONGEST_NAME = 6


def _places_in(text: str) -> list[str | tuple[str, ...]]:
    """Return each place of a text without commas: its code, or the word as it stands if unsure."""
    lead = _LEADING.match(text)
    bare = re.sub(r"\s+only$", "", text[lead.end() if lead else 0 :])
    words, read = bare.split(), list[str | tuple[str, ...]]()
    if _LOWER_CODES.fullmatch(text) or not words:  # of "in oh or wa" any may be a state
        return [text]
    while words:
        for count in range(min(_LONGEST_NAME, len(words)), 0, -1):
            name = " ".join(words[:count])
            if name in _BETWEEN and len(bare) > len(name):
                continue
            if re.fullmatch("[A-Za-z]{2}|[A-Za-z]{2}-.+", name) and _readings(name):
                read.append(name)
                break
            if (code := rules.code_meant(name)) and _readings(code):
                read.append((code,))
                break
        else:  # a town beside its state, perhaps: nothing of it is sure
            count = 1
            if words[0] not in _BETWEEN:
                return [text]
        del words[:count]
    return read or [text]


_BETWEEN = ("and", "or", "&", "the")
_LOWER_CODES = re.compile("(?=.*(?:in|or) )(?:[a-z]{2} )+[a-z]{2}")


def _readings(word: str) -> list[str]:
    """Return every place that a code may stand for: states, provinces and countries."""
    code = word.strip(" .").upper()
    country, dash, part = code.partition("-")
    if dash:
        known = rules.is_part(code) or (
            country not in ("US", "CA") and rules.country(country) != country
            and re.fullmatch("[A-Z0-9]{1,3}", part)
            and not (rules.is_part(f"US-{country}") and rules.is_part(f"US-{part}"))
        )  # fmt: skip
        return [code] if known else []
    found = [f"{home}-{code}" for home in ("US", "CA") if rules.is_part(f"{home}-{code}")]
    return found + ([code] if code == "EU" or rules.country(code) != code else [])


def _meant(word: str, sure: Container[str], maker: MakerAddress | None) -> tuple[str, ...] | str:
    """Return the place that a word stands for, or what is to be asked of it.

    Args:
        word: two letters, a code, or what is not understood.
        sure: the countries whose places are meant beyond doubt.
        maker: where she is, where that is known.
    """
    found = _readings(word)
    beside = [code for code in found if "-" in code and code.partition("-")[0] in sure]
    if len(found) == 1 or (len(beside) == 1 and word.upper() != "CA"):  # California is too near
        return ((beside or found)[0],)
    if found:
        either = " or ".join(_place_name(code) for code in found)
        return f"{either} instead of {word.upper()}, which may be either"
    wanted = f"states or countries by their names, where {as_written(word)} stands"
    if _LOWER_CODES.fullmatch(word):
        return f"{wanted}; a comma between two of them"
    spelled = (*rules.places_named(), *rules.word_lists()["state"],
               *map(rules.part_name, rules.parts_of("CA")))  # fmt: skip
    near = "" if "-" in word else nearest(word, spelled)
    slip = SequenceMatcher(None, word.casefold(), near.casefold()).ratio() > _A_SLIP
    for pattern, hint in _NO_PLACE.items():
        if not slip and re.search(rf"\b(?:{pattern})\b", word, re.I):
            own = rules.part_name(f"{maker.country}-{maker.state}") if maker and maker.state else ""
            return f"{wanted}; {hint.format(own=own or 'your own state')}"
    return f"{wanted}. Did you mean {near!r}?" if near else wanted


_A_SLIP = 0.85
"""How alike a word and a name are, by `difflib`, that one is the other mistyped."""

_NO_PLACE = {
    "but|not|except|without|mostly|mainly|most": "each by its name, none left to be worked out",
    "everywhere|anywhere|world ?wide|world|all over|internationally": 'such as "all 50 states, '
    'Canada"',
    "local|locally|here|home|around|nearby|near|my|our|own|shows?|shops?|stores?": "{own}, perhaps",
    "online|web|internet|mail|post|ship|ships|shipping|e-?bay|website|site": "all that you ship to",
    r"mid-?west\w*|north\w*|south\w*|east\w*|west\w*|new england|great lakes|lower \d+|upper|"
    r"coast|continental|contiguous|rockies|plains|gulf": "a region's states one by one",
    "country ?wide|nation ?wide|country|nation": "of which country",
}
"""What people answer that names no place, and what is to be said instead. Common practice."""


_NUMBER = r"\d+\s+\d+/\d+|\d+/\d+|\d+(?:\.\d+)?"
_WEIGHTS = re.compile(
    rf"\b((?:(?:{_NUMBER})(?:\s*[,;&]\s*|\s+(?:and|or)\s+))*(?:{_NUMBER}))\s*(oz|g)\b", re.I
)
"""Weights, of which the last has the unit of all."""
_SHARE = r"(\d+(?:\.\d+)?)\s*%"
_SUBSTANCE = r"([A-Za-z][A-Za-z -]*?)"


def _read_heads(text: str) -> Alloy:
    """Read ``lead``, or the lead-free alloy by its name or with its shares."""
    weights = tuple(
        Weight.parse(f"{number} {found[2]}")
        for found in _WEIGHTS.finditer(text)
        for number in re.findall(_NUMBER, found[1])
    )
    text = _WEIGHTS.sub(" ", text)
    bare = re.sub(
        r"\b(?:lead|pb)[ -]?free\b|\bunleaded\b|\bno lead\b|\bheads?\b", " ", text, flags=re.I
    )
    first = re.findall(rf"{_SHARE}\s*{_SUBSTANCE}(?=[^A-Za-z -]|\d|$|\s+and\b)", bare)
    last = re.findall(rf"{_SUBSTANCE}\s*{_SHARE}", bare)
    pairs = [(name, part) for part, name in first] if len(first) >= len(last) else last
    shares = {
        re.sub(r"^and\s+", "", name.strip().casefold()): Fraction(part) / 100
        for name, part in pairs
    }
    names = [each for each in _words(re.sub(_SHARE, " ", bare)) if re.search("[A-Za-z]", each)]
    names = [" ".join(each.split()).strip(" -:") for each in names]
    if bares := [name for name in names if re.fullmatch(r"[A-Za-z ]+ \d+(?:\.\d+)?", name)]:
        with_sign = ", ".join(f"{name} %" for name in bares)
        raise ValueError(f"a % behind each share: {with_sign}, if that is meant")
    unknown = [name for name in names if not _is_metal(name)]
    if not names:
        raise ValueError("the alloy too, such as bismuth 58 %, tin 42 %; lead-free alone does not "
                         "say what is in it")  # fmt: skip
    if unknown:
        raise ValueError(f"lead, or a metal or alloy by its name, where {as_written(unknown[0])} "
                         "stands")  # fmt: skip
    if "%" in text:
        if len(shares) != text.count("%") or sum(shares.values()) > 1:
            raise ValueError("each metal with its share, at most 100 % together")
        return Alloy("-".join(shares).capitalize(), shares, weights)
    if len(names) > 1:
        raise ValueError(
            "one alloy, that of most of your heads; your spreadsheet may "
            "have a column that says which, or catalog.toml"
        )
    name = "Lead" if names[0].casefold() in ("lead", "pb") else names[0].capitalize()
    return Alloy(name, weights=weights)


_ALLOYS = ("pewter", "zamak", "bronze")
"""Alloys that go by a name of their own, beside the metals whose density is known."""


def _is_metal(name: str) -> bool:
    return means(name, (*LEAD, *_ALLOYS)) or any(map(metal_density, re.findall(r"\w+", name)))


_UNKNOWN = re.compile(r"\b(?:not known|unknown|don'?t know|no idea|not sure|various|mixed)\b", re.I)
_PARTS = {
    "hooks": re.compile(r"\bhooks?\b", re.I),
    "metal": re.compile(r"\b(?:lead|heads?|metals?|alloys?)\b", re.I),
    "skirts": re.compile(r"\b(?:skirts?|silicone|rubber|hair|feathers?|bucktail)\b", re.I),
}
_OTHERS = re.compile(r"\b(?:rest|others?|else|everything|all|materials?)\b", re.I)
_FILLING = re.compile(r"\b(?:are|is|come|comes|made|from|in|of|the|both|by|it)\b", re.I)


def _read_origin(text: str) -> Origins:
    """Read ``hooks Japan, the rest USA``; a country alone is that of all."""
    wanted = "one country for the hooks and one for the other materials, or: not known"
    found: dict[str, str] = {}
    rest: str | None = None
    for clause in re.split(r"[,;]|\band\b(?=.*\b(?:from|hooks?|rest|else|materials?)\b)", text):
        if not clause.strip():
            continue
        parts = [part for part, words in _PARTS.items() if words.search(clause)]
        bare = _UNKNOWN.sub(" ", clause)
        unknown = bare != clause
        for words in (*_PARTS.values(), _OTHERS, _FILLING):
            bare = words.sub(" ", bare)
        name = " ".join(bare.split()).strip(" .:-='")
        code = NOT_KNOWN if unknown and not name else _country(name)
        if not unknown and not code:
            raise ValueError(f"{wanted}, where {as_written(clause.strip())} stands")
        for part in parts:
            if found.setdefault(part, code) != code:
                raise ValueError(wanted)
        if not parts or _OTHERS.search(clause):
            if rest not in (None, code):
                raise ValueError(wanted)
            rest = code
    if rest is not None:
        found = dict.fromkeys(_PARTS, rest) | found
    return Origins(**found)


_COUNTS = (
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
)  # fmt: skip
_SIDE = r"(\d+(?:\.\d+|\s+\d+/\d+|/\d+)?)\s*(in(?:ch(?:es)?)?\b|mm|cm|\")?"
_SIZE = re.compile(rf"{_SIDE}\s*(?:x|×|by)\s*{_SIDE}", re.I)
_CLEAR = re.compile(r"\b(?:clear|transparent|see[ -]through)\b", re.I)
_OPAQUE = re.compile(r"\b(?:not (?:clear|transparent)|opaque|paper|kraft|foil|printed)\b", re.I)
MOST_IN_A_BAG = 1000


def _read_bags(text: str) -> Bagging:
    """Read ``clear, 2 a bag, 3 x 5 in``; what is not said stays open."""
    size = None
    if found := _SIZE.search(text):
        unit = (found[4] or found[2] or "").casefold()
        unit = "in" if unit.startswith("in") or unit == '"' else unit
        if not unit:
            raise ValueError("the bag's size with its unit, such as 3 x 5 in")
        size = (Length.parse(f"{found[1]} {unit}"), Length.parse(f"{found[3]} {unit}"))
        text = text.replace(found[0], " ")
    opaque, clear = bool(_OPAQUE.search(text)), bool(_CLEAR.search(_OPAQUE.sub(" ", text)))
    if clear and opaque:
        raise ValueError("clear or opaque, not both")
    for number, word in enumerate(_COUNTS, 1):
        text = re.sub(rf"\b{word}\b", str(number), text, flags=re.I)
    text = re.sub(r"\b(?:single|singly)\b", "1", text, flags=re.I)
    text = re.sub(
        r"\b(?:a|1|(\d+)) dozen\b", lambda many: str(12 * int(many[1] or 1)), text, flags=re.I
    )
    counts = {int(number) for number in re.findall(r"\d+", text)}
    if len(counts) > 1 or not all(0 < count <= MOST_IN_A_BAG for count in counts):
        raise ValueError("one number of jigs a bag")
    if not (clear or opaque or counts or size):
        raise ValueError("clear or opaque, and how many jigs a bag")
    return Bagging(True if clear else False if opaque else None, min(counts, default=None), size)


_READERS: dict[str, Callable[[str], object]] = {
    "maker": _read_maker, "heads": _read_heads, "origin": _read_origin,
    "bags": _read_bags,
}  # fmt: skip
