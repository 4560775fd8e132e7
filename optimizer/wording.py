"""Shared by everything that speaks to people: tables, wrapped lines, counted nouns, common words."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Sequence

from ringset.physics.budget import COVERAGE
from ringset.schema.answer import Cutter, JointRing, RingPart
from ringset.schema.study import Study, Wish

#: Letters in a line of text.
WIDTH = 100
#: On what basis an error is stated, in words.
BASES = {"expanded": "95 % of readings, k = 2", "worst_case": "worst case"}
#: One piece of every wish that is counted, in words.
PIECES = {"cutters": "cutter", "ring_parts": "ring part", "heads": "head"}
_NUMBERS = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
)  # fmt: skip
#: Terms of the error budget (`physics.budget.TERMS`), in words.
TERM_WORDS = {
    "mounting_offset": "ring off centre",
    "mounting_offset_second": "ring off centre, second order",
    "tips_off_bore": "tips off the bore",
    "cumulative_pitch": "cumulative pitch",
    "single_pitch": "single pitch",
    "seat_ovality": "oval seat",
    "clamping": "clamping lobes",
    "residual_offset": "channel offset",
    "residual_gain": "channel gain",
    "residual_quadrature": "channel quadrature",
    "third_harmonic": "third harmonic",
    "stray_field": "stray field",
    "noise": "noise",
    "quantisation": "displayed step",
    "bearing_shift": "bearing shift",
    "temperature_gradient": "temperature gradient",
    "wobble": "wobble",
    "timing_jitter": "timing jitter",
}


def wording_of_module(number: str, pitch_name: str | None) -> str:
    """Return a module as it is written, with the pitch by which the shop names it, if it does.

    >>> wording_of_module("1.5875", "16 DP"), wording_of_module("1.5", None)
    ('1.5875 (16 DP)', '1.5')
    """
    return number if pitch_name is None else f"{number} ({pitch_name})"


def wording_of_cutter(cutter: Cutter) -> str:
    """Return a cutter in words, such as `hob, module 1.25, all teeth`."""
    module = wording_of_module(f"{cutter.module_mm:g}", cutter.pitch_name)
    return f"{cutter.kind}, module {module}, {cutter.tooth_range}"


def wording_of_part(part: RingPart) -> str:
    """Return the sizes of a ring part in words."""
    module = wording_of_module(f"{part.module_mm:g}", part.pitch_name)
    sizes = f"module {module}, {part.teeth} teeth, bore {part.bore_mm:g} {part.bore_zone}"
    return f"{sizes}, width {part.face_width_mm:g}"


def wording_of_coverage(rings: Iterable[JointRing]) -> float:
    """Return the coverage factor with which the budgets of some rings are expanded; 2 where there is none."""
    for ring in rings:
        if ring.budget.combined_arcsec > 0.0:
            return round(ring.budget.expanded_arcsec / ring.budget.combined_arcsec, 6)
    return COVERAGE


def wording_of_readings(coverage: float) -> str:
    """Return how many readings a coverage factor holds, in words, for a normal distribution.

    >>> wording_of_readings(2.0), wording_of_readings(3.0)
    ('95 % of readings', '99.7 % of readings')
    """
    share = 95.0 if coverage == COVERAGE else 100.0 * math.erf(coverage / math.sqrt(2.0))
    return f"{share:.3g} % of readings"


def wording_of_basis(basis: str, rings: Iterable[JointRing]) -> str:
    """Return on what basis the errors of some rings of one answer are stated, in words."""
    coverage = wording_of_coverage(rings)
    if basis != "expanded" or coverage == COVERAGE:
        return BASES[basis]
    return f"{wording_of_readings(coverage)}, k = {coverage:g}"


def wording_table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table with the first column left, the others right."""
    widths = [max(len(row[i]) for row in [heads, *rows]) for i in range(len(heads))]

    def line(row: Sequence[str]) -> str:
        first = row[0].ljust(widths[0])
        return "  " + "  ".join(
            [first, *(c.rjust(w) for c, w in zip(row[1:], widths[1:], strict=True))]
        )

    return "\n".join(line(row).rstrip() for row in [heads, *rows])


def wording_wrapped(text: str, indent: str) -> str:
    """Return the text in lines of at most WIDTH, those after the first indented alike."""
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=indent,
        subsequent_indent=" " * len(indent),
        break_long_words=False,
    )


def wording_bullets(title: str, texts: Iterable[str]) -> str:
    """Return a title and below it each text as a wrapped point."""
    return "\n".join([title, *(wording_wrapped(text, "  - ") for text in texts)])


def count(number: int, noun: str) -> str:
    """Return a number with its noun, in the plural unless it is one."""
    return f"{number} {noun}{'' if number == 1 else 's'}"


def wording_of_count(number: int, noun: str) -> str:
    """Return a number with its noun, small numbers spelled out."""
    spelled = _NUMBERS[number] if number < len(_NUMBERS) else str(number)
    return f"{spelled} {noun}{'' if number == 1 else 's'}"


def wording_of_count_change(difference: int, noun: str) -> str:
    """Return how many pieces more or fewer, such as "two heads fewer"."""
    return f"{wording_of_count(abs(difference), noun)} {'more' if difference > 0 else 'fewer'}"


def wording_of_mass(mass_kg: float) -> str:
    """Return the size of a mass in g or kg."""
    mass_kg = abs(mass_kg)
    return f"{1e3 * mass_kg:.3g} g" if mass_kg < 0.1 else f"{mass_kg:.3g} kg"


def wording_of_mass_change(difference_kg: float) -> str:
    """Return how much mass more or less, such as "45 g less"."""
    return f"{wording_of_mass(difference_kg)} {'more' if difference_kg > 0.0 else 'less'}"


def wording_of_wish_changes(
    changes: Iterable[tuple[Wish, float, float]], currency: str
) -> list[str]:
    """Return what wishes come to more or less, such as ["two heads fewer", "45 g more"]; nothing for none.

    Each change is a wish, what it came to before and by how much it differs now, in pieces, kg or money.
    """
    told = []
    for wish, before, difference in changes:
        word = "more" if difference > 0.0 else "less"
        if wish in PIECES:
            told += [wording_of_count_change(int(difference), PIECES[wish])] if difference else []
        elif abs(difference) <= 1e-9 * before:
            continue
        elif wish == "material":
            told.append(wording_of_mass_change(difference))
        else:
            amount = f"{abs(difference):.2f} {currency}".rstrip()
            told.append(f"{amount} {word}" if currency else f"{amount} {word} cost")
    return told


def in_study_order(study: Study, rings: Iterable[JointRing]) -> list[JointRing]:
    """Return the rings in the order in which the study lists robots and joints."""
    by_joint = {(ring.robot, ring.joint): ring for ring in rings}
    return [by_joint[(robot.name, joint.name)] for robot in study.robots for joint in robot.joints]


def wording_of_no_pair(ring: JointRing) -> str:
    """Return why a ring and its second ring are no pair whatever their errors; empty where they are one."""
    second = ring.electronics.second_ring
    if second is None or second.teeth is None:
        return ""
    both = f"{ring.teeth} and {second.teeth} teeth"
    divisor = math.gcd(ring.teeth, second.teeth)
    if divisor > 1:
        return f"{both} share the divisor {divisor}"
    return "" if second.tolerance_arcsec else f"no one cutter of the shop cuts {both}"
