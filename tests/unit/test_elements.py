"""Reading orbital elements: the same satellite in four forms, and mistakes named by their place. All satellites here are invented."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_sky import JSON, KVN, LINES, XML

from aerialwright.air.element_lines import checksum
from aerialwright.air.element_text import parse_all_elements, parse_elements
from aerialwright.air.elements import Elements, ElementsError, check_age

FORMS = {"lines": LINES, "json": JSON, "xml": XML, "kvn": KVN}


def signed(line: str) -> str:
    """A line with its right checksum."""
    return f"{line[:68]}{checksum(line)}"


@pytest.mark.parametrize("form", FORMS)
def test_four_forms_are_one_orbit(form: str) -> None:
    found = parse_elements(FORMS[form])
    expected = Elements(
        "FINCHLING-1", 99901, 2461345.5, 0.5, 97.5, 15.0, 5e-4, 90.0, 270.0, 15.15323725, 1e-4, 2e-5
    )  # fmt: skip
    assert found == expected
    assert found.epoch == datetime(2026, 11, 1, 12, tzinfo=UTC)
    assert not found.deep_space
    # 520 km by Kepler's third law, by hand: a = (398600.8 / n^2)^(1/3).
    n = 15.15323725 * 2 * math.pi / 86400
    assert sum(found.heights) / 2 == pytest.approx((398600.8 / n**2) ** (1 / 3) - 6378.135, abs=0.01)
    assert sum(found.heights) / 2 == pytest.approx(520.0, abs=0.1)


def test_the_library_reads_the_lines_alike() -> None:
    """Every element of our record against the SGP4 library's own reader."""
    from sgp4.api import WGS72, Satrec

    ours, theirs = parse_elements(LINES).satrec(), Satrec.twoline2rv(*LINES.splitlines()[1:], WGS72)
    for name in ("no_kozai", "ecco", "inclo", "nodeo", "argpo", "mo", "bstar", "ndot"):
        assert getattr(ours, name) == pytest.approx(getattr(theirs, name), rel=1e-12), name
    assert ours.jdsatepoch + ours.jdsatepochF == pytest.approx(theirs.jdsatepoch + theirs.jdsatepochF, abs=1e-9)
    assert ours.sgp4_tsince(1000.0)[1] == pytest.approx(theirs.sgp4_tsince(1000.0)[1], abs=1e-6)


def test_checksums_of_published_lines() -> None:
    """Lines of the verification set [@spacetrack-3]."""
    assert checksum("1 00005U 58002B   00179.78495062  .00000023  00000-0  28098-4 0  4753") == 3
    assert checksum("2 00005  34.2682 348.7242 1859667 331.7664  19.3264 10.82419157413667") == 7


ONE, TWO = LINES.splitlines()[1:]


@pytest.mark.parametrize(
    ("text", "place", "what"),
    [
        ("", "elements", "holds nothing"),
        ("hello", "elements", "no line of elements"),
        (f"{ONE[:-1]}4\n{TWO}", "line 1, column 69", "the checksum is 4 and should be 5"),
        (f"{ONE}\n{TWO[:20]}x{TWO[21:]}", "line 2, columns 18-25", "is no ascending node"),
        (f"{ONE}\n{TWO[:-6]}", "line 2, column 64", "has 63 characters"),
        (f"{ONE}\n{signed(TWO.replace('99901', '99902'))}", "line 2, column 3", "is of satellite 99902"),
        (ONE, "line 1", "without its line 2"),
        (f"name\n{TWO}", "line 2", "a second line without its first"),
        (f"a\nb\n{ONE}\n{TWO}", "line 2", "is no line of elements"),
        (f"{signed(ONE.replace('26305.5', '26405.5'))}\n{TWO}", "line 1, column 21", "is in no year"),
        (f"{ONE}\n{signed(TWO.replace(' 97.5000', '197.5000'))}", "line 2", "inclination 197.5 is outside"),
        (f"{ONE}\n{signed(TWO.replace('15.15323725', '25.15323725'))}", "line 2", "mean motion 25.1532 is outside"),
        (f"{ONE[:40]}\u00b2{ONE[41:]}\n{TWO}", "line 1, column 41", "a character that no element line has"),
        (JSON[:-9], "line 1, column", "not valid JSON"),
        (JSON.replace("15.15323725", "NaN"), "elements", "NaN is no number"),
        (JSON.replace('"97.5"', "[1]"), "INCLINATION", "is no number"),
        (JSON.replace("INCLINATION", "INCL"), "INCLINATION", "is missing"),
        ("[1]", "elements", "is no table"),
        ("[" * 100_000, "elements", "not valid JSON"),
        (KVN.replace("TEME", "ICRF"), "line 6, REF_FRAME", "is not what SGP4 works with"),
        (KVN.replace("2026-11-01", "2026-13-01"), "EPOCH", "is no time"),
        (KVN.replace("EPOCH   ", "epoch   "), "line 9, column 1", "is no 'KEYWORD = value'"),
        (KVN + "BSTAR = 1\n", "line 20", "stands twice"),
        (XML.replace("</omm>", ""), "line 20, column", "not valid XML"),
        (XML.replace("<BSTAR>.0001", "<BSTAR>1e99999"), "BSTAR", "is no number"),
        ("<a/>", "elements", "holds no elements"),
    ],
)  # fmt: skip
def test_mistakes_are_named_by_their_place(text: str, place: str, what: str) -> None:
    with pytest.raises(ElementsError) as caught:
        parse_elements(text)
    assert place in caught.value.where
    assert what in caught.value.what
    assert caught.value.mend


@pytest.mark.parametrize(
    "text",
    [
        '<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY a "b"><!ENTITY c "&a;&a;">]><omm><BSTAR>&c;</BSTAR></omm>',
        '<!DOCTYPE x SYSTEM "file:///etc/hostname"><omm/>',
        '<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/hostname">]><omm><OBJECT_NAME>&e;</OBJECT_NAME></omm>',
    ],
)
def test_document_types_are_refused(text: str) -> None:
    with pytest.raises(ElementsError, match="document type"):
        parse_elements(text)


def test_one_of_several() -> None:
    other = LINES.replace("FINCHLING-1", "SPARROW-2").replace(ONE, signed(ONE.replace("99901", "99902")))
    other = other.replace(TWO, signed(TWO.replace("99901", "99902")))
    newer = LINES.replace(ONE, signed(ONE.replace("26305.5", "26307.5")))
    text = f"# invented\n{other}{LINES}{newer}"
    assert len(parse_all_elements(text)) == 3
    assert parse_elements(text, name="sparrow-2").number == 99902
    assert parse_elements(text, name="99901").epoch.day == 3, "the newest"
    with pytest.raises(ElementsError, match="none called 'wren'"):
        parse_elements(text, name="wren")


def test_letters_in_catalogue_numbers() -> None:
    """'A0000' is 100000 and 'Z9999' 339999; I and O are left out [@sgp4-library]."""
    for text, number in (("A0000", 100_000), ("Z9999", 339_999), ("J2931", 182_931)):
        found = parse_elements(f"{signed(ONE.replace('99901', text))}\n{signed(TWO.replace('99901', text))}")
        assert found.number == number


def test_age() -> None:
    found = parse_elements(LINES)
    day = timedelta(days=1)
    assert not check_age(found, first=found.epoch - day, last=found.epoch + 2 * day)
    (old,) = check_age(found, first=found.epoch + 10 * day, last=found.epoch + 20 * day)
    assert old.measured == pytest.approx(20.0)
    assert "21 to 61 km" in old.text, "1 km and 1 to 3 km a day"
    # 21 and 61 km at the speed of a circular orbit of 520 km, 7.60 km/s.
    assert "3 to 8 s early or late" in old.text
    with pytest.raises(ElementsError, match=r"2\.0 years before 2028"):
        check_age(found, first=found.epoch + 730 * day, last=found.epoch + 740 * day)
    with pytest.raises(ElementsError, match="years after"):
        check_age(found, first=found.epoch - 740 * day, last=found.epoch - 730 * day)


def test_deep_space_is_allowed_and_said() -> None:
    """A Molniya orbit of the verification set [@spacetrack-3]."""
    found = parse_elements(
        "1 08195U 75081A   06176.33215444  .00000099  00000-0  11873-3 0   813\n"
        "2 08195  64.1586 279.0717 6877146 264.7651  20.2257  2.00491383225656\n"
    )
    assert found.deep_space
    (said,) = check_age(found, first=found.epoch, last=found.epoch + timedelta(days=1))
    assert "718 minutes" in said.text
    assert "deep space" in said.text


@settings(max_examples=150, deadline=2000)
@given(form=st.sampled_from(sorted(FORMS)), data=st.data())
def test_mutated_text_never_ends_in_a_traceback(form: str, data: st.DataObject) -> None:
    text = FORMS[form]
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        span = data.draw(st.integers(0, 12))
        text = text[:at] + data.draw(st.text(max_size=6)) + text[at + span :]
    try:
        parse_elements(text).satrec()
    except ElementsError as error:
        assert error.one_line().isprintable()
        assert error.mend
        assert len(error.one_line()) < 500


@settings(max_examples=100, deadline=2000)
@given(st.one_of(st.text(), st.text(alphabet="12 .-+0\n<>[]{}=&;!ENTITY", max_size=300)))
def test_any_text(text: str) -> None:
    with pytest.raises(ElementsError):
        parse_elements(text)
