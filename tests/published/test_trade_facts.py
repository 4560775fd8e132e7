"""Facts of the trade that the physics must reproduce: common practice, no source."""

import numpy as np
import pytest

from ringset.physics import geometry, resolution
from ringset.physics.budget import angle_error_budget
from tests.published.tables import printed
from tests.published.test_sensing_worked_numbers import default_joint


def test_a_ring_of_module_1_and_tip_diameter_180() -> None:
    """178 teeth, pitch diameter 178, root diameter 175.5, bore 162 with 6.75 mm below the root.

    Common practice, no source.
    """
    teeth = np.arange(18, 400)
    (fits,) = teeth[geometry.tip_diameter_mm(1.0, teeth) == 180.0]
    assert fits == 178
    assert geometry.pitch_diameter_mm(1.0, 178) == 178.0
    assert geometry.root_diameter_mm(1.0, 178) == 175.5
    assert geometry.rim_thickness_mm(175.5, 162.0) == 6.75


# Bits, count, degrees: common practice, no source.
@pytest.mark.parametrize(
    ("bits", "count", "degrees"),
    [(25, 132_200, "1.418"), (20, 3_624, "1.244"), (26, 67_081_762, "359.855")],
)
def test_displayed_counts_in_degrees(bits: int, count: int, degrees: str) -> None:
    angle = resolution.counts_to_deg(count, bits)
    assert angle == printed(degrees)
    assert resolution.deg_to_counts(angle, bits) == count


def test_twenty_five_bits_are_33_554_432_counts() -> None:
    """Common practice, no source."""
    assert resolution.counts_per_turn(25) == 33_554_432


@pytest.mark.parametrize("bits", [20, 25, 26])
def test_32_teeth_may_show_any_number_of_bits_but_use_no_more_for_it(bits: int) -> None:
    """Displayed steps shrink with the bits, noise and usable bits stay: common practice, no source."""
    found = angle_error_budget(
        default_joint(teeth=32, pitch_diameter_mm=32.0, position_bits=bits)
    ).amplitude
    assert 2.0 * found["quantisation"] == pytest.approx(1296000.0 / 2**bits, rel=1e-12)
    # 60 dB of signal on 32 teeth: 14.9 noise-free bits, computed from the closed formula.
    assert resolution.usable_bits(found["noise"]) == printed("14.9")


#: Module in mm and teeth of six different rings.
SIX_RINGS = [(0.5, 96), (0.5, 180), (0.8, 112), (1.0, 32), (1.0, 178), (2.0, 64)]


def test_six_different_rings_can_all_show_24_bits() -> None:
    """One displayed step for all; usable bits follow the teeth: common practice, no source."""
    found = [
        angle_error_budget(default_joint(module=module, teeth=teeth, position_bits=24)).amplitude
        for module, teeth in SIX_RINGS
    ]
    steps = {2.0 * float(terms["quantisation"]) for terms in found}
    assert steps == {1296000.0 / 2**24}
    usable = [float(resolution.usable_bits(terms["noise"])) for terms in found]
    assert len({round(bits, 2) for bits in usable}) == 6
    by_teeth = [bits for _, bits in sorted(zip([z for _, z in SIX_RINGS], usable, strict=True))]
    assert by_teeth == sorted(by_teeth)
    assert max(usable) < 24.0
