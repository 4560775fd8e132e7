"""What an answer says of the electronics, for people."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator
from decimal import ROUND_DOWN, Context

from ringset.physics.limit_rule import ALLOWANCE
from ringset.schema.answer import Answer, JointRing, RobotElectronics, SecondRing
from ringset.wording import WIDTH, wording_of_no_pair


def electronics_text(answer: Answer) -> str:
    """Return what the answer says of the electronics, for people; empty where nothing is stated."""
    lines = [(r.label, "; ".join(_joint_words(r))) for r in answer.rings]
    lines += [(piece.robot, "; ".join(_robot_words(piece))) for piece in answer.electronics]
    filled = [
        textwrap.fill(f"{name}: {words}", WIDTH, initial_indent="  ", subsequent_indent="    ")
        for name, words in lines
        if words
    ]
    return "\n".join(["Reading electronics", *filled]) if filled else ""


def joint_text(ring: JointRing) -> str:
    """Return what one ring's electronics come to, for people; empty where nothing is stated."""
    words = "; ".join(_joint_words(ring))
    return textwrap.fill(words, WIDTH, initial_indent="  ", subsequent_indent="  ") if words else ""


def _joint_words(ring: JointRing) -> Iterator[str]:
    e = ring.electronics
    if e.sample_rate_needed_hz is not None:
        yield f"needs {e.sample_rate_needed_hz:.4g} samples a second"
    if e.lag_arcsec is not None and e.signal_loss_share is not None:
        yield (
            f"lags {e.lag_arcsec:.3g} arcsec and loses {100.0 * e.signal_loss_share:.2g} % of the "
            "signal at full speed"
        )
    if e.unpowered_speed_max_rpm is not None:
        yield f"counts pitches without power below {e.unpowered_speed_max_rpm:.4g} rpm"
    if e.counter_bits_needed is not None:
        yield f"pitch counter of {e.counter_bits_needed} bits"
    if e.backup_current_ua == 0.0:
        yield "draws nothing from a battery, so counts no pitches without power"
    elif e.backup_current_ua is not None:
        yield f"back-up current {e.backup_current_ua:.3g} uA"
    if e.reply_bytes is not None and e.line_time_us is not None:
        yield f"reply of {e.reply_bytes} bytes, {e.line_time_us:.4g} us on the line"
    if e.second_ring is not None:
        yield _second_ring_words(ring, e.second_ring)


def _second_ring_words(ring: JointRing, second: SecondRing) -> str:
    if (
        second.teeth is None
        or second.tolerance_arcsec is None
        or second.relative_error_arcsec is None
    ):
        return "second ring: no coprime tooth count fits beside it"
    part = "" if second.ring_part is None else f" ({second.ring_part})"
    which = f"second ring of {second.teeth} teeth{part} on the same seat"
    if why := wording_of_no_pair(ring):
        return f"{which}: is no pair with this ring, for {why}{_alike(ring.teeth, second.teeth)}{_room(ring)}"
    can = (
        "tells the pitches apart"
        if second.feasible
        else f"cannot tell the pitches apart {_with(ring)}"
    )
    return (
        f"{which}: {can}; their errors may differ by "
        f"{second.tolerance_arcsec:.4g} arcsec and do by {second.relative_error_arcsec:.4g} at worst, "
        f"{second.tolerance_arcsec - second.relative_error_arcsec:.3g} left, one head on each ring"
        + _room(ring)
    )


def _alike(teeth: int, other: int) -> str:
    """Say at how many places of a turn both rings read the same, where it is more than one."""
    places = math.gcd(teeth, other)
    return f", so both read the same at {places} places of a turn" if places > 1 else ""


def _room(ring: JointRing) -> str:
    """Say that the room for two rings side by side is not checked, where the joint states none."""
    if any(margin.limit == "axial_room_mm" for margin in ring.margins):
        return ""
    return "; room for two rings along the axis is not checked"


def _with(ring: JointRing) -> str:
    return f"with flank class {ring.flank_class}"


def _no_longer(years: float) -> str:
    """Return a life with three digits, rounded down so that it never reads longer than it is.

    One within the tolerance of limits (`physics/limit_rule.py`) of the next value counts as that.
    """
    down = Context(prec=3, rounding=ROUND_DOWN)
    return f"{float(down.create_decimal_from_float(years * (1.0 + ALLOWANCE))):.3g}"


def _robot_words(piece: RobotElectronics) -> Iterator[str]:
    if piece.battery_life_years is not None:
        wanted = piece.battery_life_min_years
        asked = "" if wanted is None else f", asked {wanted:g}"
        yield (
            f"battery lasts {_no_longer(piece.battery_life_years)} years{asked}, "
            f"{piece.battery_current_ua:.4g} uA on average"
        )
    if piece.cycle_us is not None:
        most = "" if piece.cycle_max_us is None else f", allowed {piece.cycle_max_us:g}"
        yield f"line polls all joints in {piece.cycle_us:.4g} us{most} ({piece.cycle_rate_hz:.4g} Hz)"
    if piece.skew_arcsec:
        yield f"samples lie up to {piece.skew_arcsec:.3g} arcsec apart unless latched together"
