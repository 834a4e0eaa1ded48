"""Which rings the calculator finds for a gland, in which order, and what it says of them."""

from __future__ import annotations

from decimal import Decimal

import pytest

from sparewell.plugin import Verdict, parse_length
from sparewell_o_rings.calculator import compute
from sparewell_o_rings.sizes import MERGED_RINGS, STANDARD_RINGS, Standard

RANKS = {name: rank for rank, name in enumerate(("fits", "try_in", "tight", "loose", "refused"))}

GLANDS = (
    {"gland": "piston", "bore": "7.6", "groove_diameter": "4.6", "duty": "static"},
    {"gland": "piston", "bore": "6.85", "groove_diameter": "5.1", "duty": "static"},
    {"gland": "piston", "bore": "70", "groove_diameter": "61.6", "duty": "static"},
    {"gland": "rod", "bore": "5.9", "rod": "3", "duty": "moving"},
    {"gland": "face", "groove_depth": "1.4", "groove_diameter": "8", "duty": "static"},
)


def names(rings) -> list[str]:
    """Return the rings by standard and size."""
    return [f"{ring['standard']} {ring['size']}" for ring in rings]


def test_as568_008_is_found_for_its_usual_piston(result_of, piston) -> None:
    """A groove of 4.6 mm in a bore of 7.6 mm takes a -008, which ISO 3601-1 calls 008."""
    rings = result_of(**piston)["rings"]
    ring = next(ring for ring in rings if ring["size"] == "-008")
    assert ring["standard"] == "AS568"
    assert ring["also"] == ["ISO 3601-1 008"]
    assert ring["inside_diameter"] == parse_length("0.176 in")
    assert ring["cross_section"] == parse_length("0.070 in")
    assert ring["verdict"] == "try_in"
    # By hand, AS4716 small branch: X = 4.6 / 4.4704 - 1 and ID/W = 2.514.
    assert ring["stretch_percent"]["nominal"] == Decimal("2.899")
    assert ring["squeeze_percent"]["nominal"] == pytest.approx(
        Decimal("14.352"), abs=Decimal("1e-3")
    )


def test_a_shared_ring_is_listed_once(result_of, piston) -> None:
    """ISO 3601-1 008 does not stand beside AS568 -008: equal rings are merged."""
    assert "ISO 3601-1 008" not in names(result_of(**piston)["rings"])
    assert len({ring.printed for ring in MERGED_RINGS}) == len(MERGED_RINGS)
    merged = [name for ring in MERGED_RINGS for name in (ring.name, *ring.also)]
    assert sorted(merged) == sorted(ring.name for ring in STANDARD_RINGS)
    inch = [ring for ring in MERGED_RINGS if ring.standard is Standard.AS568]
    assert sum(bool(ring.also) for ring in inch) == 349


@pytest.mark.parametrize("gland", GLANDS)
@pytest.mark.parametrize("group", ["rings", "free_rings"])
def test_order(result_of, gland, group) -> None:
    """Verdict, points outside the band, distance from 2 % of stretch, in this order."""
    result = result_of(groove_width="2.4", **gland)
    band = result["bands"]["squeeze_percent"]
    keys = []
    for ring in result[group]:
        squeeze = ring["squeeze_percent"]["nominal"]
        outside = max(band["low"] - squeeze, squeeze - band["high"], Decimal(0))
        assert ring["outside_band_percent"] == outside
        keys.append((RANKS[ring["verdict"]], outside, abs(ring["stretch_percent"]["nominal"] - 2)))
    assert len(keys) > 1 or group == "free_rings"
    assert keys == sorted(keys)


@pytest.mark.parametrize("gland", GLANDS)
def test_free_sizes_come_last(result_of, gland) -> None:
    """While any standard size would do, free ones stand apart; they never repeat a standard."""
    result = result_of(groove_width="2.4", **gland)
    standard = [ring for ring in result["rings"] if ring["standard"] != "free metric"]
    if any(ring["verdict"] in {"fits", "try_in"} for ring in standard):
        assert standard == result["rings"]
    known = {ring.printed for ring in MERGED_RINGS}
    for ring in result["free_rings"]:
        key = ring["inside_diameter"] // 10_000, ring["cross_section"] // 10_000
        assert ring["standard"] == "free metric"
        assert key not in known


def test_free_sizes_are_the_answer_where_no_table_has_one(result_of) -> None:
    """A groove 0.875 mm deep wants a section of 1 mm, which only free metric rings have."""
    rings = result_of(gland="piston", bore="6.85", groove_diameter="5.1", duty="static")["rings"]
    assert rings[0]["standard"] == "free metric"
    assert rings[0]["cross_section"] == parse_length("1")
    assert rings[0]["tolerance_assumed"]
    assert rings[0]["inside_diameter_tolerance"] == parse_length("0.15")


def test_thin_sections_are_looked_at_first(result_of) -> None:
    """Where a ring up to 2 mm would do no thicker one is listed; the limit is a setting."""
    gland = {"gland": "piston", "bore": "10.2", "groove_diameter": "7", "duty": "static"}
    thin = result_of(**gland)["rings"]
    assert thin[0]["verdict"] == "try_in"
    assert all(ring["cross_section"] <= parse_length("2") for ring in thin)
    both = result_of(**gland, changed_settings={"o_ring.first_sections": parse_length("9")})
    assert any(ring["cross_section"] > parse_length("2") for ring in both["rings"])


def test_thick_sections_are_found_where_thin_ones_would_not_do(result_of) -> None:
    """A gap of 2.2 mm is for sections of about 2.6 mm: AS568 -1xx are listed."""
    rings = result_of(gland="piston", bore="16.4", groove_diameter="12", duty="static")["rings"]
    assert rings[0]["verdict"] in {"fits", "try_in"}
    assert "AS568 -112" in names(rings)


def test_given_ring_alone_is_judged(result_of, piston) -> None:
    """With `ring` there is one answer, and its standard names are told beside it."""
    result = result_of(ring={"inside_diameter": "4.47", "cross_section": "1.78"}, **piston)
    assert names(result["rings"]) == ["as given 4.47 x 1.78"]
    assert result["rings"][0]["also"] == ["AS568 -008", "ISO 3601-1 008"]
    assert result["rings"][0]["verdict"] == "fits"
    assert result["free_rings"] == []


def test_tolerance_of_a_given_ring_defaults_to_nothing(result_of, piston) -> None:
    """Without tolerances, nominal and extremes are one."""
    ring = result_of(ring={"inside_diameter": "4.47", "cross_section": "1.78"}, **piston)["rings"][
        0
    ]
    for name in ("stretch_percent", "squeeze_percent", "fill_percent"):
        assert ring[name]["min"] == ring[name]["nominal"] == ring[name]["max"]


# Bands by default, still: 12 to 20 %; face gland without stretch, gap 1 mm: squeeze = 1 - 1/W.
@pytest.mark.parametrize(
    ("section", "off", "verdict"),
    [
        ("1.2", "0", Verdict.FITS),
        ("1.25", "0", Verdict.FITS),
        ("1.1364", "0", Verdict.FITS),
        ("1.136", "0", Verdict.LOOSE),
        ("1.251", "0", Verdict.TIGHT),
        ("1.2", "0.04", Verdict.FITS),
        ("1.2", "0.06", Verdict.TRY_IN),
        ("1.2", "0.08", Verdict.TRY_IN),
        ("1.2", "0.2", Verdict.LOOSE),
        ("1.13", "0.03", Verdict.TRY_IN),
        ("1.255", "0.03", Verdict.TRY_IN),
        ("1.34", "0.2", Verdict.TIGHT),
        ("0.99", "0", Verdict.REFUSED),
        ("1.8", "0", Verdict.REFUSED),
    ],
)
def test_verdict_comes_from_the_extremes(result_of, section, off, verdict) -> None:
    """The same nominal section fits, is to be tried, or is loose, by its tolerance alone."""
    ring = result_of(
        gland="face",
        groove_diameter="8",
        groove_depth="1",
        duty="static",
        ring={"inside_diameter": "8", "cross_section": section, "cross_section_tolerance": off},
    )["rings"][0]
    assert ring["verdict"] == verdict.value, ring["why"]


@pytest.mark.parametrize(
    ("inside", "off", "verdict"),
    [
        ("8", "0", "fits"),
        ("7.8", "0", "fits"),
        ("7.8", "0.3", "try_in"),
        ("7.4", "0", "tight"),
        ("8.1", "0", "loose"),
        ("8.3", "0", "refused"),
        ("6.3", "0", "refused"),
    ],
)
def test_verdict_by_stretch(result_of, inside, off, verdict) -> None:
    """A ring that is slack, or stretched too far, does not fit however well it is squeezed."""
    section = {"8": "1.2", "8.1": "1.2", "8.3": "1.2", "6.3": "1.35", "7.4": "1.25"}
    ring = result_of(
        gland="face",
        groove_diameter="8",
        groove_depth="1",
        duty="static",
        ring={
            "inside_diameter": inside,
            "cross_section": section.get(inside, "1.22"),
            "inside_diameter_tolerance": off,
        },
    )["rings"][0]
    assert ring["verdict"] == verdict, ring["why"]


@pytest.mark.parametrize(
    ("width", "verdict"),
    [("1.6", "fits"), ("1.2", "fits"), ("1.18", "tight"), ("1.15", "tight"), ("1.1", "refused")],
)
def test_verdict_by_fill(result_of, width, verdict) -> None:
    """Rubber does not compress: a groove more than full is refused, one nearly full is tight."""
    ring = result_of(
        gland="face",
        groove_diameter="8",
        groove_depth="1",
        groove_width=width,
        duty="static",
        ring={"inside_diameter": "8", "cross_section": "1.2"},
    )["rings"][0]
    assert ring["verdict"] == verdict, ring["why"]


def test_fill_at_worst_decides(result_of) -> None:
    """A groove that is 90 % full as meant, and 97 % at its narrowest, is tight."""
    ring = result_of(
        gland="face",
        groove_diameter="8",
        groove_depth="1",
        groove_width="1.25",
        groove_width_tolerance="0.08",
        duty="static",
        ring={"inside_diameter": "8", "cross_section": "1.2"},
    )["rings"][0]
    assert ring["verdict"] == "tight"
    assert ring["why"].startswith("fill 90.5 %")


def test_bands_are_settings(result_of) -> None:
    """A moving ring at 15 % is tight by the bands for pens, and fits by the published range."""
    gland = {
        "gland": "face",
        "groove_diameter": "8",
        "groove_depth": "1",
        "duty": "moving",
        "ring": {"inside_diameter": "8", "cross_section": "1.18"},
    }
    pens = result_of(**gland)
    assert pens["rings"][0]["verdict"] == "tight"
    assert pens["bands"]["squeeze_percent"] == {"low": 7, "high": 12}
    assert pens["bands"]["published_squeeze_percent"] == {"low": 10, "high": 20}
    published = result_of(changed_settings={"o_ring.bands": "published"}, **gland)
    assert published["rings"][0]["verdict"] == "fits"
    wider = result_of(changed_settings={"o_ring.squeeze_moving_high": Decimal(16)}, **gland)
    assert wider["rings"][0]["verdict"] == "fits"


@pytest.mark.parametrize(
    ("gland", "duty", "low", "high"),
    [
        ("piston", "static", 15, 25),
        ("rod", "static", 15, 25),
        ("face", "static", 20, 30),
        ("piston", "moving", 10, 20),
    ],
)
def test_published_ranges_by_gland_and_duty(result_of, gland, duty, low, high) -> None:
    """The published range beside the band is that of the gland and the duty."""
    readings = {
        "piston": {"bore": "7.6", "groove_diameter": "4.6"},
        "rod": {"bore": "5.9", "rod": "3"},
        "face": {"groove_diameter": "8", "groove_depth": "1.4"},
    }[gland]
    result = result_of(gland=gland, duty=duty, **readings)
    assert result["bands"]["published_squeeze_percent"] == {"low": low, "high": high}


def test_section_model_is_named_and_can_be_changed(result_of, piston) -> None:
    """The answer names its model; another one gives another squeeze."""
    ring = {"inside_diameter": "4.47", "cross_section": "1.78"}
    usual = result_of(ring=ring, **piston)
    assert "AS4716" in usual["section_model"]
    other = result_of(
        ring=ring, changed_settings={"o_ring.section_model": "constant_volume"}, **piston
    )
    assert "constant volume" in other["section_model"]
    squeezes = [each["rings"][0]["squeeze_percent"]["nominal"] for each in (usual, other)]
    assert squeezes == [Decimal("14.444"), Decimal("14.514")]


def test_spread_of_a_reading_counts_as_its_tolerance(inputs_of, piston) -> None:
    """A bore read to 0.05 mm widens the gap's extremes; a larger tolerance given goes before it."""
    spread = compute(inputs_of(spreads={"bore": "0.05"}, **piston)).result["gap"]
    assert spread == {"nominal": 1_500_000, "min": 1_475_000, "max": 1_525_000}
    both = inputs_of(spreads={"bore": "0.05"}, bore_tolerance="0.1", **piston)
    assert compute(both).result["gap"]["max"] == 1_550_000


def test_wanted_ring_would_fit(result_of, piston) -> None:
    """A ring that measures what is wanted is squeezed by just the bounds of the band."""
    wanted = result_of(**piston)["wanted"]
    squeezes = []
    for bound in ("min", "max"):
        ring = {
            "inside_diameter": wanted["inside_diameter"],
            "cross_section": wanted["cross_section"][bound],
        }
        found = result_of(ring=ring, **piston)["rings"][0]
        squeezes.append(found["squeeze_percent"]["nominal"])
        assert found["stretch_percent"]["nominal"] == 2
    assert squeezes == [12, 20]


def test_rod_tells_peripheral_compression_and_piston_the_way_on(result_of, piston) -> None:
    """Each is told where it belongs: the cavity shortens the outer edge, a piston stretches."""
    ring = {"inside_diameter": "2.9", "cross_section": "1.78"}
    rod = result_of(gland="rod", rod="3", bore="6", ring=ring)["rings"][0]
    assert rod["peripheral_compression_percent"] == Decimal("7.121")
    assert rod["fitting_stretch_percent"] is None
    on = result_of(ring={"inside_diameter": "4", "cross_section": "1.78"}, **piston)["rings"][0]
    assert on["fitting_stretch_percent"] == 90
    assert on["peripheral_compression_percent"] is None


def test_nothing_near_says_so(inputs_of) -> None:
    """A gap of 50 mm has no ring, and the answer says to measure again."""
    answer = compute(inputs_of(gland="piston", bore="300", groove_diameter="200", duty="static"))
    assert answer.result["rings"] == []
    assert any("No ring of any table comes near" in warning for warning in answer.warnings)


def test_missing_width_and_duty_are_said(inputs_of) -> None:
    """No width: no fill, and a warning; no duty: static, and a warning."""
    answer = compute(inputs_of(gland="piston", bore="7.6", groove_diameter="4.6"))
    assert answer.result["duty"] == "static"
    assert all(ring["fill_percent"] is None for ring in answer.result["rings"])
    told = " ".join(answer.warnings)
    assert "Nothing was said of the duty" in told
    assert "width was not given" in told


def test_readings_of_another_gland_are_named_as_unused(inputs_of, piston) -> None:
    """A rod has no place on a piston, nor has a tolerance without its reading."""
    answer = compute(inputs_of(rod="3", groove_depth_tolerance="0.1", **piston))
    told = " ".join(answer.warnings)
    assert "The rod is not used" in told
    assert "groove_depth_tolerance is not used" in told


def test_how_many_are_listed_is_a_setting(result_of, piston) -> None:
    """At most so many rings, and so many free ones, are shown."""
    settings = {"o_ring.rings_listed": 2, "o_ring.free_listed": 1}
    result = result_of(changed_settings=settings, **piston)
    assert len(result["rings"]) == 2
    assert len(result["free_rings"]) == 1


def test_working_carries_the_figures(result_of, piston) -> None:
    """The working names the gap, both bands, the model and the verdict."""
    working = " ".join(result_of(**piston)["working"])
    for words in ("= 1.5 mm", "pens 12 to 20 %", "published 15 to 25 %", "AS4716", "Verdict:"):
        assert words in working
