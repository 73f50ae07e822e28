"""Oils, rules by country, the gate before a conversion, and the cautions."""

import pytest

from sweatline.errors import JobError
from sweatline.refrigerant.safety_data import known_names, safety_data
from sweatline.safety.cautions import CAUTIONS, cautions_for
from sweatline.safety.oils import OILS, oil_verdict
from sweatline.safety.regulations import (
    conversion_gate,
    jurisdiction,
)


@pytest.mark.parametrize(
    ("oil", "refrigerant", "verdict"),
    [
        ("MO", "R-22", "ok"),
        ("MO", "R-12", "ok"),
        ("POE", "R-22", "marginal"),
        ("POE", "R-134a", "ok"),
        ("MO", "R-134a", "wrong"),
        ("AB", "R-410A", "wrong"),
        ("MO", "R-1234yf", "wrong"),
        ("PAG", "R-134a", "marginal"),
        ("PAG", "R-12", "wrong"),
        ("PAG", "R-22", "wrong"),
        ("PAG", "R-290", "ok"),
        ("MO", "R-600a", "ok"),
        ("PAG", "R-600a", "marginal"),
        ("PVE", "R-290", "marginal"),
        ("POE", "R-12", "marginal"),
        ("unknown", "R-152a", "marginal"),
    ],
)
def test_oil(oil: str, refrigerant: str, verdict: str) -> None:
    found = oil_verdict(oil, refrigerant)
    assert found.verdict == verdict
    assert found.sentence.endswith(".")
    assert found.status
    assert found.source
    assert found.suitable == safety_data(refrigerant).oils


def test_every_listed_oil_is_one_we_know_and_suits() -> None:
    for name in known_names():
        data = safety_data(name)
        assert data.oils
        for oil in data.oils:
            assert oil_verdict(oil, name).verdict == "ok"
        for oil in data.oils_limited:
            assert oil in OILS
            assert oil_verdict(oil, name).verdict == "marginal"


def test_mineral_oil_never_suits_what_has_fluorine_but_no_chlorine() -> None:
    for name in known_names():
        data = safety_data(name)
        # A few per cent of butane in a blend carry mineral oil back, in some machines.
        wrong = data.fluorinated and not data.chlorinated and data.family != "HFC/HC"
        assert (oil_verdict("MO", name).verdict == "wrong") == wrong
        assert (oil_verdict("MO", name).verdict == "marginal") == (data.family == "HFC/HC")


def test_ester_oil_comes_with_a_word_on_water() -> None:
    assert "water" in oil_verdict("POE", "R-134a").sentence
    assert "water" not in oil_verdict("MO", "R-22").sentence


def test_unheard_of_oil() -> None:
    with pytest.raises(JobError, match="no oil of this kind"):
        oil_verdict("olive", "R-290")


@pytest.mark.parametrize(
    ("country", "place"),
    [
        ("US", "US"),
        ("U.S.A.", "US"),
        (" united  states ", "US"),
        ("AT", "EU"),
        ("de", "EU"),
        ("Germany", "EU"),
        ("EU", "EU"),
        ("GB", "other"),
        ("not stated", "other"),
        ("", "other"),
    ],
)
def test_jurisdiction(country: str, place: str) -> None:
    assert jurisdiction(country) == place


def test_gate_before_a_flammable_conversion() -> None:
    shut = conversion_gate("R-290", built_for="R-134a", country="NZ")
    assert shut.stop
    assert not shut.barred
    assert "R-290" in shut.reason
    assert "R-134a" in shut.reason
    assert not conversion_gate("R-290", built_for="R-134a", country="NZ", accepted=True).stop
    assert not conversion_gate("R-290", built_for="R-134a", country="AT", accepted=True).stop


def test_gate_stays_shut_where_a_rule_bars_it() -> None:
    for accepted in (False, True):
        gate = conversion_gate("R-152a", built_for="R-22", country="US", accepted=accepted)
        assert gate.stop
        assert gate.barred
        assert gate.rule is not None
        assert gate.rule.key == "us-listed-use"


def test_gate_is_open_otherwise() -> None:
    assert not conversion_gate("R-134a", built_for="R-22", country="US").stop
    assert not conversion_gate("R-290", built_for="R-290", country="US").stop
    assert conversion_gate("R-600a", built_for=None, country="AT").stop


def test_cautions_are_named_once_and_written_out() -> None:
    keys = [c.key for c in CAUTIONS]
    assert len(keys) == len(set(keys))
    assert all(c.text.endswith(".") for c in CAUTIONS)


def test_general_caution_is_always_there() -> None:
    for name in (None, *known_names()):
        assert "no-approval" in {c.key for c in cautions_for(name, work=())}


def test_cautions_fit_refrigerant_and_work() -> None:
    propane = {c.key for c in cautions_for("R-290", work=["charging"])}
    assert {"conversion", "flammable-gas", "cold-liquid", "label", "no-venting"} <= propane
    assert "acid-gas" not in propane
    assert "vacuum-no-power" not in propane
    tetra = {c.key for c in cautions_for("R-134a", work=["brazing", "evacuating"])}
    assert {"before-the-torch", "acid-gas", "vacuum-no-power"} <= tetra
    assert not tetra & {"conversion", "over-limit", "flammable-gas"}
    assert "dry-nitrogen-only" in {c.key for c in cautions_for("R-22", work=["pressurising"])}
    assert "isolate" in {c.key for c in cautions_for("R-22", work=["electrical"])}


def test_very_low_concentration_limit_is_told_at_any_work() -> None:
    toxic = {n for n in known_names() if _has(n, "low-concentration-limit")}
    assert toxic == {"R-1270"}


def _has(name: str, key: str) -> bool:
    return key in {c.key for c in cautions_for(name, work=())}


def test_what_stops_comes_first_and_unknown_is_taken_for_the_worst() -> None:
    found = cautions_for(None, work=["charging"])
    stops = [not c.stop for c in found]
    assert stops == sorted(stops)
    assert {"conversion", "flammable-gas", "acid-gas"} <= {c.key for c in found}


def test_what_was_looked_into_and_is_clear_is_not_warned_of() -> None:
    found = {c.key for c in cautions_for("R-290", work=["charging"], clear={"over-limit"})}
    assert "over-limit" not in found
    assert {"conversion", "flammable-gas"} <= found
