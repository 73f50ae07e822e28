"""Range notes: said once, in one sentence, and only when there is something to say."""

import math

import pytest

from sweatline.answers import told
from sweatline.flow.validity import VALIDITY, range_notes
from sweatline.units import Scale

SI_WITHIN = {
    "Re": 1000.0,
    "rows": 2.0,
    "tube_diameter": 9.52e-3,
    "fin_pitch": 1.8e-3,
    "Pt": 25.4e-3,
    "Pl": 22e-3,
    "mass_flux": 100.0,
    "diameter": 8.5e-3,
    "heat_flux": 5e3,
    "reduced_pressure": 0.05,
}


@pytest.mark.parametrize("model", VALIDITY)
def test_a_usual_coil_gets_no_note(model: str) -> None:
    assert range_notes(model, SI_WITHIN) == ()


@pytest.mark.parametrize("model", VALIDITY)
def test_every_end_is_checked(model: str) -> None:
    for span in VALIDITY[model]:
        assert span.low < span.high
        for value in (span.low * 0.99, span.high * 1.01, math.nan):
            (note,) = range_notes(model, SI_WITHIN | {span.quantity: value / span.scale})
            assert span.words in note
            assert model in note
            assert f"{span.low:g} to {span.high:g}" in note


def test_what_is_not_known_is_not_judged() -> None:
    assert range_notes("boiling (Liu and Winterton 1991)", {}) == ()


def test_the_sentence() -> None:
    (note,) = range_notes("boiling (Liu and Winterton 1991)", {"diameter": 2.0e-3})
    assert note == (
        "bore 2 mm is outside the data of boiling (Liu and Winterton 1991): 2.95 to 32 mm"
    )


@pytest.mark.parametrize("model", VALIDITY)
def test_a_note_is_told_in_the_units_of_its_reader(model: str) -> None:
    for span in VALIDITY[model]:
        (note,) = range_notes(model, SI_WITHIN | {span.quantity: span.high * 1.5 / span.scale})
        assert told(note, Scale("SI")) == note
        american = told(note, Scale("US"))
        assert not {"mm", "kg/(m2*s)", "kW/m2"} & set(american.replace(":", "").split()), american
    (note,) = range_notes("boiling (Liu and Winterton 1991)", {"diameter": 2.54e-3})
    assert told(note, Scale("US")) == (
        "bore 0.1 in is outside the data of boiling (Liu and Winterton 1991): 0.1161 to 1.26 in"
    )
