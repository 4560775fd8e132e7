"""Each budget line against the simulation of it alone: the two share no formula but geometry."""

from collections.abc import Iterable

import numpy as np
import pytest

from ringset.analysis.simulation.budget_agreement import Agreement, simulated_agreements
from ringset.analysis.simulation.monte_carlo import Draw
from ringset.physics.budget import TERMS
from tests.analysis.simulation.cases import case_of, study_of
from tests.support.tiers import campaign, slow

EXACT = {
    "mounting_offset", "mounting_offset_second", "tips_off_bore", "seat_ovality", "clamping",
    "third_harmonic", "temperature_gradient", "wobble",
}  # fmt: skip


@pytest.mark.cases(fast=1, slow=0)
@pytest.mark.parametrize("heads", [1, 2, 3, 4])
@pytest.mark.parametrize("teeth", [96, 97])
def test_every_term_agrees_for_odd_and_even_teeth(heads: int, teeth: int) -> None:
    """Deterministic terms within 1e-3, random ones within their scatter."""
    rows = simulated_agreements(case_of(study_of({"set_by": "tips"}), teeth, heads), seed=3)
    assert [row.term for row in rows] == list(TERMS)
    wrong = [(row.term, row.ratio, row.tolerance) for row in rows if not row.holds]
    assert wrong == []


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize(
    "angles", [(0.0, 180.0), (0.0, 120.0, 240.0), (0.0, 90.0, 180.0, 270.0), (0.0, 90.0)]
)
@pytest.mark.parametrize("teeth", [97, 96, 98])
def test_heads_placed_exactly_keep_exactly_what_the_budget_says(
    angles: tuple[float, ...], teeth: int
) -> None:
    """Without a placement tolerance nothing is a bound: sinusoids agree within 1e-3 for every layout."""
    count = len(angles)
    study = study_of(
        {"head_counts": [count], "head_angles_deg": {str(count): list(angles)}, "set_by": "tips"},
        head={"placement_tolerance_deg": 0.0, "common_share": 1.0},
    )
    for row in simulated_agreements(case_of(study, teeth, count), seed=5):
        if row.term in EXACT:
            # where the first order cancels, second orders of up to h3^2 / z are left
            assert row.simulated_arcsec == pytest.approx(row.budget_arcsec, rel=1e-3, abs=0.05), row


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize(
    ("teeth", "heads", "kept"),
    [
        (96, 2, 1.0),
        (97, 2, 0.0),
        campaign(96, 3, 1.0),
        slow(97, 3, 0.0),
        campaign(98, 4, 0.0),
        campaign(96, 4, 1.0),
    ],
)
def test_odd_and_coprime_counts_cancel_the_common_offset(
    teeth: int, heads: int, kept: float
) -> None:
    """Order z of an offset alike at all heads survives only if the head count divides z."""
    exact = {"placement_tolerance_deg": 0.0, "common_share": 1.0}
    case = case_of(study_of({"head_counts": [heads]}, head=exact), teeth, heads)
    one = case_of(study_of({"head_counts": [1]}, head=exact), teeth, 1)

    def offset(rows: Iterable[Agreement]) -> Agreement:
        return next(row for row in rows if row.term == "residual_offset")

    several, single = offset(simulated_agreements(case, 1)), offset(simulated_agreements(one, 1))
    # the second order of an offset, o^2 / (2 z), is of order 2 z and may survive: 0.01 arcsec
    assert several.simulated_arcsec == pytest.approx(kept * single.simulated_arcsec, abs=0.015)
    assert several.budget_arcsec == pytest.approx(kept * single.budget_arcsec, abs=1e-9)


@pytest.mark.cases(fast=1, slow=0)
@pytest.mark.parametrize("heads", [1, 2])
def test_tips_that_set_the_ring_are_drawn_as_the_budget_counts_them(heads: int) -> None:
    """Half of F_r off the bore, read by one head and by two; nothing where the bore sets the ring."""
    case = case_of(study_of({"set_by": "tips"}), 97, heads)
    row = next(row for row in simulated_agreements(case, seed=4) if row.term == "tips_off_bore")
    assert row.budget_arcsec > 0.0
    assert row.simulated_arcsec == pytest.approx(row.budget_arcsec, rel=1e-3)
    plain = case_of(study_of(), 97, heads)
    bare = next(row for row in simulated_agreements(plain, seed=4) if row.term == "tips_off_bore")
    assert bare.budget_arcsec == 0.0
    assert bare.simulated_arcsec == pytest.approx(0.0, abs=1e-9)


def test_the_tips_turn_at_the_offset_whatever_they_run_out_by() -> None:
    """The drawn ring's own centre is off by e - t, and its tips stand out by t: their centre is at e.

    Over all draws the squares of the ring's centre are those of e and t together.
    """
    case = case_of(study_of({"set_by": "tips", "seat_tir_um": 20.0}), 97, 1)
    draw = Draw(case, 4000, np.random.Generator(np.random.SFC64(3)), "full",
                only=["mounting_offset", "tips_off_bore"])  # fmt: skip
    rings = draw.rings()
    assert rings.runout_mm is not None
    teeth = 2.0 * np.pi * np.arange(97) / 97
    tips = rings.offset_mm + 2.0 * np.mean(rings.runout_mm * np.exp(1j * teeth), axis=1)
    assert np.abs(tips) == pytest.approx(10e-3, rel=1e-9)
    squares = 1e-6 * (10.0**2 + case.tips_um**2)
    assert np.mean(np.abs(rings.offset_mm) ** 2) == pytest.approx(squares, rel=0.04)


def test_a_wrong_budget_line_is_noticed() -> None:
    """One part in a hundred on any deterministic line breaks its agreement."""
    from dataclasses import replace

    for row in simulated_agreements(case_of(study_of({"set_by": "tips"}), 97, 1), seed=1):
        if row.term in EXACT:
            assert not replace(row, budget_arcsec=row.budget_arcsec * 1.01).holds


@pytest.mark.cases(fast=2)
@pytest.mark.parametrize("heads", [2, 3, 4])
@pytest.mark.parametrize("share", [0.0, 0.3, 0.5, 1.0])
@pytest.mark.parametrize("alone", [True, False])
def test_channel_errors_mean_the_same_alone_and_with_all_others(
    heads: int, share: float, alone: bool
) -> None:
    """Drawn errors of every head: at their limit, any two alike by the common share, as the budget has it.

    The mean over heads of an order with gain 1 then has the variance (1 - c) / H + c, whatever else is drawn.
    """
    head = {"common_share": share, "residual_quadrature_deg": 2.0}
    case = case_of(study_of(head=head), 96, heads)
    names = ("residual_offset", "residual_gain", "residual_quadrature")
    draw = Draw(
        case, 20000, np.random.Generator(np.random.SFC64(9)), "full", only=names if alone else None
    )
    drawn = draw.heads()
    strong = case.strength(case.gaps_mm[2])
    for errors, limit in (
        (drawn.quadrature_rad, np.radians(2.0)),
        (drawn.gain, case.ref.head.residual_gain),
        (drawn.offset * strong, case.ref.head.residual_offset),
    ):
        assert np.abs(errors) == pytest.approx(limit, rel=1e-12)
        mean = np.mean(np.abs(np.mean(errors / limit, axis=1)) ** 2)
        # 20,000 turns scatter by a hundredth
        assert mean == pytest.approx((1.0 - share) / heads + share, rel=0.04)
