"""What comes out: the error budget of one ring, term by term."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from ringset.schema.base import AnswerModel
from ringset.schema.proof import Label

Arcsec = Annotated[float, Field(ge=0.0, le=1e9)]


class Term(AnswerModel):
    """One term of a budget."""

    name: Label
    amplitude_arcsec: Arcsec = Field(description="Half of peak to peak; for noise one sigma.")
    standard_arcsec: Arcsec = Field(description="Standard uncertainty.")
    repeats: bool = Field(
        description="Whether it is the same each time the joint passes the same angle: it then belongs to "
        "accuracy alone, else to repeatability too."
    )


class Budget(AnswerModel):
    """The angle error of one ring on one joint."""

    terms: Annotated[list[Term], Field(max_length=100)]
    combined_arcsec: Arcsec = Field(description="Standard uncertainty of all terms together.")
    expanded_arcsec: Arcsec = Field(
        description="target.coverage_factor times it: 95 % of readings with k = 2."
    )
    worst_case_arcsec: Arcsec = Field(
        description="Sum of all amplitudes of an unlucky ring and unlucky heads, noise at "
        "target.worst_noise_sigmas."
    )
    repeatability_expanded_arcsec: Arcsec = Field(
        description="target.coverage_factor times the standard uncertainty of the terms that do not repeat."
    )
    repeatability_worst_case_arcsec: Arcsec = Field(
        description="Sum of the amplitudes of the terms that do not repeat, with unlucky heads, noise at "
        "target.worst_noise_sigmas."
    )
