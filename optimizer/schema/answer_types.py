"""Types of the numbers and texts of an answer, each with its range."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

__all__ = [
    "AbsoluteBy", "Amount", "AnyUnit", "DeviationUm", "Difference", "Left", "ProfileUm", "RimMm",
    "RingKg", "RingMm", "Sha256", "Share", "Teeth", "Text", "TotalKg", "WidthMm", "WishAmount",
]  # fmt: skip

Text = Annotated[str, StringConstraints(max_length=100_000)]
Sha256 = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
Share = Annotated[float, Field(ge=0.0, le=1.0)]
#: Of what has no largest value of its own, such as the life of a battery that hardly anything drains.
Amount = Annotated[float, Field(ge=0.0)]
#: What an answer comes to in a wish, in its own unit, and what two answers differ by.
WishAmount = Annotated[float, Field(ge=0.0, le=1e30)]
Difference = Annotated[float, Field(ge=-1e30, le=1e30)]
#: In percent of a target; far below 0 where a ring that is only rated misses it.
Left = Annotated[float, Field(ge=-1e16, le=100.0)]
#: Values and limits of any unit; far beyond what any ring comes to, yet sums of them stay finite.
AnyUnit = Annotated[float, Field(ge=-1e300, le=1e300)]
#: Diameters of a ring, up to 10,000 teeth of the largest module with room to spare.
RingMm = Annotated[float, Field(gt=0.0, le=1e6)]
#: Of a ring that is only rated; a negative rim is one that its bore cuts away.
RimMm = Annotated[float, Field(ge=-1e6, le=1e6)]
WidthMm = Annotated[float, Field(gt=0.0, le=500.0)]
ProfileUm = Annotated[float, Field(ge=0.0, le=1e6)]
#: A limit deviation of ISO 286, signed; none of its table comes near.
DeviationUm = Annotated[float, Field(ge=-1e5, le=1e5)]
Teeth = Annotated[int, Field(ge=1, le=10_000)]
#: Of one ring; a disc of steel of 5 m and 500 mm has 77 t.
RingKg = Annotated[float, Field(gt=0.0, le=1e6)]
#: Over all that are built: mass in kg, money.
TotalKg = Annotated[float, Field(gt=0.0, le=1e20)]
#: By what a joint finds its place after power loss (`schema/absolute.py` says what each word asks).
AbsoluteBy = Literal["none", "counter", "second_ring", "counter_and_second_ring"]
