"""Values of every kind over HTTP: what is taken reads back as it was meant, the rest is refused.

What a value means is computed here by other means than the service's own: fractions and decimals
built beside the text that is sent.
"""

from __future__ import annotations

import json
import unicodedata
from calendar import monthrange
from collections.abc import Callable, Iterable
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from support.api import Api, Reply

NANOMETRES_OF = {
    "": 10**6,
    "mm": 10**6,
    "MM": 10**6,
    "cm": 10**7,
    "in": 25_400_000,
    '"': 25_400_000,
    "\N{DOUBLE PRIME}": 25_400_000,
    "thou": 25_400,
    "µm": 1000,
}
VULGAR = {"½": Fraction(1, 2), "¼": Fraction(1, 4), "⅞": Fraction(7, 8)}
LONGEST_NANOMETRES = 10**9
TODAY = date(2026, 11, 25)  # by the clock of the tests
EVERY_TEXT = st.text(st.characters(codec="utf-8"), max_size=60)
ODD_TEXTS = st.one_of(
    EVERY_TEXT,
    st.text("\x00\t\n\r\x1f\x7f\x85\x9f \u00a0\u3000A/\\?#%.", max_size=8),
    st.text("e\u0301\u202e\u2066\u200d\ufeff\ufffe\U0001f58b\U0001d160\ufb2cZ", max_size=12),
    st.builds(
        lambda text, times: text * times, st.sampled_from("a\U0001f58bé"), st.integers(1, 2001)
    ),
)
BIG = st.one_of(
    st.integers(-(2**70), 2**70),
    st.sampled_from([0, -1, 1, 10**6, 10**6 + 1, 2**31, 2**32, 2**63 - 1, 2**63, 2**64]),
)

pytestmark = pytest.mark.parametrize(
    "examples", [pytest.param(60, id="some"), pytest.param(1000, id="many", marks=pytest.mark.long)]
)


@pytest.fixture
def stocked(api: Api) -> Api:
    """A service with one lot, one pen and one job."""
    api.stock()
    api.job()
    return api


def _try(
    examples: int,
    values: st.SearchStrategy[Any],
    check: Callable[[Any], None],
    *,
    always: Iterable[Any] = (),
) -> None:
    """Check the known edges, and so many values; what fails is printed with what reproduces it."""
    for value in always:
        check(value)
    chosen = settings(max_examples=examples, deadline=None, suppress_health_check=list(HealthCheck))
    chosen(given(values)(check))()


def _change_lot(api: Api, raw: str) -> Reply:
    return api.call("PATCH", "/v1/lots/1", raw=raw.encode(), If_Match="*")


def _check_refused(reply: Reply, where: str, *statuses: int) -> None:
    assert reply.status in (statuses or (422,)), reply.text
    assert reply.headers["Content-Type"] == "application/problem+json"
    if reply.status == 422:
        places = [each.get("pointer", each.get("parameter")) for each in reply.body["errors"]]
        assert any(place.startswith(where) for place in places), reply.text


@st.composite
def _lengths(draw: st.DrawFn) -> tuple[str, Fraction | None]:
    """Return a text and the nanometres it means; None where it may be no length."""
    unit = draw(st.sampled_from(list(NANOMETRES_OF)))
    space = draw(st.sampled_from(["", " ", "\u00a0", "  "]))
    whole, over, under = draw(st.tuples(*[st.integers(0, 70)] * 3))
    figures = draw(st.text("0123456789", min_size=1, max_size=12))
    form = draw(st.sampled_from(["decimal", "fraction", "mixed", "vulgar", "odd"]))
    if form == "odd":
        return draw(st.text("0123456789.,/-+eE_ ½²٣۷\u2212µminINfa\"'\u200b", max_size=45)), None
    if form == "decimal":
        sign = draw(st.sampled_from(".,"))
        text, value = f"{whole}{sign}{figures}", Fraction(f"{whole}.{figures}")
        if sign == "," and len(figures) == 3 and whole and unit in {"thou", "µm"}:
            return f"{text}{space}{unit}", None  # thousands, perhaps
    elif form == "vulgar":
        vulgar = draw(st.sampled_from(list(VULGAR)))
        text, value = f"{whole}{vulgar}", whole + VULGAR[vulgar]
    elif form == "fraction":
        text, value = f"{over}/{under + 1}", Fraction(over, under + 1)
    else:
        over, under = sorted((over, under + 71))
        text, value = f"{whole} {over}/{under}", whole + Fraction(over, under)
    if form in {"fraction", "mixed", "vulgar"} and not unit:
        return text, None  # a fraction needs its unit
    return f"{text}{space}{unit}", value * NANOMETRES_OF[unit]


def test_length_in_words_reads_back_exactly(stocked: Api, examples: int) -> None:
    """A text is the millimetres its figures and its unit come to, to the nanometre, or refused."""

    def check(length: tuple[str, Fraction | None]) -> None:
        text, exact = length
        reply = _change_lot(stocked, json.dumps({"measured": {"length": text}}))
        if exact is None and reply.status == 200:
            return
        if (
            exact is not None
            and round(exact) >= 1
            and exact <= LONGEST_NANOMETRES
            and len(text) <= 40
        ):
            assert reply.status == 200, reply.text
            assert round(Decimal(repr(reply.body["measured"]["length"])) * 10**6) == round(exact)
            assert reply.body["measured_as_entered"]["length"] == text.strip()
        else:
            _check_refused(reply, "/measured/length")

    _try(examples, _lengths(), check)


NUMBERS = st.one_of(
    st.decimals(allow_nan=False, allow_infinity=False).map(str),
    st.from_regex(r"\A-?(0|[1-9][0-9]{0,3})(\.[0-9]{1,12})?([eE][+-]?[0-9]{1,3})?\Z").map(str),
    st.sampled_from(
        [
            *("NaN", "Infinity", "-Infinity", "1e400", "1e3000000", "1e-3000000", "-0", "1e3"),
            *("9" * 10_000, "0." + "1" * 10_000, "1000.0000001"),
            *("true", "null", "[1]", '{"size":1}'),
        ]
    ),
)


def test_number_of_millimetres_reads_back_exactly(stocked: Api, examples: int) -> None:
    """A JSON number is so many millimetres; huge, tiny, not finite or not a number is refused."""

    def check(raw: str) -> None:
        reply = _change_lot(stocked, f'{{"measured":{{"length":{raw}}}}}')
        value = _finite(raw)
        if raw == "null":  # takes the measurement away
            assert reply.status == 200
        elif value is None or not Decimal("1e-9") < value <= 1000 or round(value * 10**6) < 1:
            _check_refused(reply, "/measured/length", 400, 422)
        elif len(value.as_tuple().digits) <= 40:
            assert reply.status == 200, reply.text
            assert reply.body["measured"]["length"] == round(Fraction(value) * 10**6) / 10**6

    _try(examples, NUMBERS, check)


def _finite(raw: str) -> Decimal | None:
    try:
        value = json.loads(raw, parse_float=Decimal, parse_int=Decimal)
    except ValueError:
        return None
    return value if isinstance(value, Decimal) and value.is_finite() else None


@st.composite
def _making_dates(draw: st.DrawFn) -> tuple[str, str | None]:
    """Return a text and how it is kept; None where it is no date yet."""
    year = draw(st.one_of(st.integers(1870, 2110), st.sampled_from([0, 9999, 10000])))
    month, day = draw(st.integers(0, 14)), draw(st.integers(0, 32))
    quarter = draw(st.integers(0, 6))
    form = draw(st.sampled_from(["day", "month", "quarter", "quarter first", "year"]))
    text, month = {
        "day": (f"{year:04d}-{month:02d}-{day:02d}", month),
        "month": (f"{year:04d}-{month:02d}", month),
        "quarter": (f"{year:04d}-Q{quarter}", quarter * 3 - 2),
        "quarter first": (f"{quarter}Q{year:04d}", quarter * 3 - 2),
        "year": (f"{year:04d}", 1),
    }[form]
    in_calendar = 1 <= month <= 12 and 1880 <= year <= 2100
    if form == "day":
        in_calendar = in_calendar and 1 <= day <= monthrange(year, month)[1]
    if not in_calendar or date(year, month, day if form == "day" else 1) > TODAY:
        return text, None
    return text, f"{year:04d}-Q{quarter}" if form.startswith("quarter") else text


def test_making_date_reads_back_as_precisely_as_it_was_given(stocked: Api, examples: int) -> None:
    """A day, a month, a quarter or a year that has begun is kept as such; any other is refused."""

    def check(made_on: tuple[str, str | None]) -> None:
        text, kept = made_on
        reply = _change_lot(stocked, json.dumps({"made_on": text}))
        if kept is None:
            _check_refused(reply, "/made_on")
        else:
            assert (reply.status, reply.body["made_on"]) == (200, kept), reply.text

    _try(examples, _making_dates(), check)


AMOUNTS = st.one_of(
    st.decimals(-10, 2 * 10**9, places=2).map(lambda amount: f'"{amount}"'),
    st.decimals(-10, 2 * 10**9, places=2).map(lambda amount: f'"{amount}"'.replace(".", ",")),
    st.decimals(0, 10**9, places=3).map(str),
    st.from_regex(r"\A(0|[1-9][0-9]{0,3})(\.[0-9]{1,4})?[eE][+-]?[0-9]{1,9}\Z").map(str),
    st.sampled_from(
        ['"+1"', '"1e2"', '"1_0"', '"٣"', '"£5"', '"1,234.50"', "true", "[]", '"NaN"', "1e400"]
    ),
)


def test_amount_reads_back_to_the_cent(stocked: Api, examples: int) -> None:
    """An amount of at most two decimals up to a thousand million is kept; others are refused."""

    def check(raw: str) -> None:
        reply = _change_lot(stocked, f'{{"cost":{raw}}}')
        plain = raw.strip('"').replace(",", ".")
        written = raw.startswith('"') and set(plain) <= set("0123456789.") and plain.count(".") < 2
        value = Decimal(plain) if written else _finite(raw)
        if value is not None and 0 <= value <= 10**9 and value == value.quantize(Decimal("0.01")):
            assert reply.status == 200, (raw, reply.text)
            assert reply.body["cost"] == f"{value:.2f}"
        else:
            _check_refused(reply, "/cost")

    _try(examples, AMOUNTS, check)


def test_number_of_pieces_is_whole_and_within_bounds(stocked: Api, examples: int) -> None:
    """A count from 0 to a million is what is in hand; any other number or text is refused."""

    def check(counted: Any) -> None:
        reply = stocked.post("/v1/lots/1/count", {"counted": counted})
        if type(counted) is int and 0 <= counted <= 10**6:
            assert (reply.status, reply.body["in_hand"]) == (200, counted), reply.text
        else:
            _check_refused(reply, "/counted")

    odd = st.sampled_from([1.5, "1", True, None, [], {}, 1e300, "9" * 50])
    _try(examples, st.one_of(BIG, st.integers(0, 10**6), odd), check)


TEXTS = [
    ("/v1/drawers/A3", "note", 2000, True),
    ("/v1/parts/SAC-15-STR", "name", 200, False),
    ("/v1/parts/SAC-15-STR", "material", 60, False),
    ("/v1/lots/1", "label", 200, False),
    ("/v1/lots/1", "material", 60, False),
    ("/v1/lots/1", "note", 2000, True),
    ("/v1/pens/PEN-0001", "called", 200, False),
    ("/v1/pens/PEN-0001", "note", 2000, True),
    ("/v1/jobs/JOB-0001", "note", 2000, True),
]


def test_text_reads_back_as_it_was_written(stocked: Api, examples: int) -> None:
    """A text is kept composed and without outer spaces; control characters are refused."""

    def check(case: tuple[tuple[str, str, int, bool], str]) -> None:
        (path, member, longest, is_note), text = case
        reply = stocked.call("PATCH", path, {member: text}, If_Match="*")
        kept = unicodedata.normalize("NFC", text).strip()
        control = {each for each in text if unicodedata.category(each) == "Cc"}
        if control - set("\n\t" if is_note else "") or not (is_note or kept) or len(kept) > longest:
            _check_refused(reply, f"/{member}")
        else:
            assert reply.status == 200, reply.text
            assert stocked.get(path).body[member] == kept

    _try(examples, st.tuples(st.sampled_from(TEXTS), ODD_TEXTS), check)


def test_code_made_can_be_read_at_its_address(stocked: Api, examples: int) -> None:
    """Whatever is taken as a drawer's code is found in its Location, and in no other spelling."""

    def check(code: str) -> None:
        reply = stocked.post("/v1/drawers", {"code": code})
        if reply.status == 201:
            assert reply.body["code"] == unicodedata.normalize("NFC", code).strip()
            for path in (reply.headers["Location"], f"/v1/drawers/{quote(code.strip(), safe='')}"):
                assert stocked.get(path).body["code"] == reply.body["code"]
        elif reply.status != 409:
            _check_refused(reply, "/code")

    _try(examples, ODD_TEXTS, check)


def test_lone_surrogate_is_no_text(stocked: Api, examples: int) -> None:
    """Half a character in a JSON escape is a bad request, in a value and in a name."""

    def check(case: tuple[str, int, bool]) -> None:
        member, code, low = case
        half = f"\\u{code + (0x400 if low else 0):04x}"
        assert _change_lot(stocked, f'{{"{member}":"a{half}b"}}').status == 400
        assert _change_lot(stocked, f'{{"a{half}":1}}').status == 400

    halves = st.tuples(
        st.sampled_from(["note", "label", "material"]), st.integers(0xD800, 0xDBFF), st.booleans()
    )
    _try(examples, halves, check)


PLACES = ["/v1/parts/", "/v1/drawers/", "/v1/pens/", "/v1/jobs/", "/v1/settings/", "/v1/lots/"]
PLACES += ["/v1/reservations/", "/v1/calculators/", "/v1/size-tables/"]


def test_odd_address_is_answered_or_not_found(stocked: Api, examples: int) -> None:
    """Any text and any number in an address is an object or none: never a failure."""

    def check(case: tuple[str, str]) -> None:
        step, rest = case
        for place in PLACES:
            reply = stocked.get(place + step + rest)
            assert reply.status in {200, 404}, reply.text
            if place in {"/v1/lots/", "/v1/reservations/"} and (step, rest) != ("1", ""):
                assert reply.status == 404

    escaped = st.one_of(ODD_TEXTS.map(lambda text: quote(text, safe="")), BIG.map(str))
    raw = st.lists(st.integers(0, 255).map("%{:02x}".format), max_size=6).map("".join)
    others = st.sampled_from(
        ["01", "+1", "1.0", "1e0", "%D9%A1", "%20%31", "..", "%2e%2e", "a%2fb"]
    )
    steps = st.one_of(escaped, raw, others)
    rests = st.sampled_from(["", "", "/plan", "/", "/.."])
    edges = [(str(number), "") for number in (0, -1, 2**31, 10**18, 2**63 - 1, 2**63, 2**64)]
    _try(examples // 2, st.tuples(steps, rests), check, always=edges)


QUERIES = [
    ("lots", "limit", 1, 500),
    ("lots", "after", 0, 2**63 - 1),
    ("lots", "available_min", 0, 10**6),
    ("movements", "lot", 1, 2**63 - 1),
    ("movements", "group", 1, 2**63 - 1),
    ("reservations", "lot", 1, 2**63 - 1),
]


def test_number_in_a_query_is_within_its_bounds(stocked: Api, examples: int) -> None:
    """A whole number within the bounds is taken; any other, and any other spelling, is refused."""

    def check(case: tuple[tuple[str, str, int, int], str]) -> None:
        (plural, name, lowest, highest), text = case
        reply = stocked.get(f"/v1/{plural}?{name}={quote(text)}")
        plain = text.isascii() and text.isdigit() and len(text) <= 40
        if plain and lowest <= int(text) <= highest:
            assert reply.status == 200, reply.text
        else:
            _check_refused(reply, name)

    odd = st.sampled_from(
        ["", " 5", "5 ", "+5", "1_0", "٣", "1.0", "1e2", "0x1", "\uff15", "0" * 99]
    )
    _try(examples, st.tuples(st.sampled_from(QUERIES), st.one_of(BIG.map(str), odd)), check)


TEXT_QUERIES = ["lots?kind", "lots?part", "lots?place", "lots?material", "lots?attributes"]
TEXT_QUERIES += ["lots?fit_on", "lots?outside_diameter_min", "parts?kind", "parts?material"]
TEXT_QUERIES += ["movements?job", "movements?verb", "reservations?state", "jobs?pen", "jobs?state"]
TEXT_QUERIES += ["pens?filling_system"]


def test_text_in_a_query_finds_or_is_refused(stocked: Api, examples: int) -> None:
    """Any text in a query narrows the list or is refused under its name: never a failure."""

    def check(text: str) -> None:
        for asked in TEXT_QUERIES:
            front = "thread_starts:" if asked.endswith("attributes") else ""
            reply = stocked.get(f"/v1/{asked}={quote(front + text, safe='')}")
            if reply.status != 200:
                _check_refused(reply, asked.partition("?")[2])
            assert reply.status != 200 or "\x00" not in text

    _try(examples // 3, ODD_TEXTS, check, always=["", "\x00", "a\x00b", "1" * 2001, "%", "'"])
