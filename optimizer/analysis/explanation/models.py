"""What comes out of asking why: blockers, reliefs, prices of limits, room to move. Frozen, unrounded."""

from __future__ import annotations

import json
from typing import Literal

from pydantic import Field

from ringset.schema.base import AnswerModel
from ringset.schema.study import Wish


class Member(AnswerModel):
    """One limit of a blocker, or a joint with all its limits."""

    path: str = Field(description="Path of the limit in the study; of a joint, its robot and name.")
    text: str = Field(description="The limit as people read it.")
    whole_joint: bool = Field(
        default=False, description="Whether it is a joint with all its limits."
    )
    note: str = Field(
        default="", description="What no ring can reach, and what is suspicious; often empty."
    )
    best: float | None = Field(
        default=None,
        description="Nearest value that alone would leave the joint a ring; null where none does.",
    )

    @property
    def told(self) -> str:
        """The limit with its note."""
        return f"{self.text} ({self.note})" if self.note else self.text


class Collision(AnswerModel):
    """A blocker: limits that cannot hold together, though all but any one of them can."""

    joint: str | None = Field(description="The joint they leave without a ring, if it is one.")
    members: list[Member]
    text: str


class NewValue(AnswerModel):
    """A limit at a new value, as the study would hold it."""

    path: str
    given: int | float | list[int | float]
    value: int | float | list[int | float]
    text: str


class Way(AnswerModel):
    """A relief: verified by solving, and impossible with any of its values one step less."""

    changes: list[NewValue]
    asks: float = Field(description="Sum of the changes, each relative to the value given.")


class Price(AnswerModel):
    """What a limit costs: the study solved with it loosened and tightened; differences per quantity."""

    path: str
    text: str
    given: float
    loosened: float | None = Field(description="Value tried; null where the field allows none.")
    tightened: float | None
    gain: dict[str, float] = Field(
        description="Change of each quantity when loosened: wishes, and tool points by robot in um."
    )
    loss: dict[str, float] = Field(description="Change when tightened; empty if impossible then.")
    tightened_impossible: bool
    solved: bool = Field(description="False where the search did not end in time.")


class Room(AnswerModel):
    """How far one input may drift before the chosen answer fails, and what fails first."""

    path: str
    given: float
    direction: Literal["up", "down"]
    holds_to: float = Field(
        description="Last value at which every joint holds, to a millionth of the drift."
    )
    room: float = Field(description="Distance from the value given.")
    first: str | None = Field(description="Joint or robot that fails first; null if none does.")
    limit: str | None = Field(description="Field of the limit that is broken first.")
    target_holds_to: float | None = Field(
        default=None,
        description="Where that is an accuracy target with a reserve below it: from `holds_to` on the "
        "input eats the reserve, and this is the last value at which all holds with the whole target. "
        "null without a reserve, for other limits, and where nothing fails even so.",
    )
    target_limit: str | None = Field(
        default=None, description="Field of the limit that is broken beyond `target_holds_to`."
    )


class Explanation(AnswerModel):
    """Why a study is impossible and what would help; or what its limits cost and leave."""

    title: str
    study_sha256: str
    status: Literal["possible", "impossible", "undecided"]
    blockers: list[Collision]
    complete: bool = Field(description="Whether the blockers listed are all there are.")
    margin: float = Field(
        description="How far beyond a window rings were looked at, as a share of the value given."
    )
    singles: list[Way] = Field(description="Reliefs of one limit, the one that asks least first.")
    fronts: list[list[Way]] = Field(description="Reliefs of two limits, front by front.")
    together: Way | None = Field(description="Changes that help together, where two do not.")
    free_without_kept_parts: bool | None = Field(
        default=None,
        exclude_if=lambda free: free is None,
        description="Whether an impossible study would be possible if no joint kept a part (keeps_part); "
        "absent where none does, or where that is not known.",
    )
    order: list[Wish] = Field(description="Wishes in the order in which prices count.")
    prices: list[Price]
    open: list[str] = Field(
        default_factory=list, description="What the search did not get to know, and why."
    )
    rooms: list[Room]

    def to_json(self) -> str:
        """Return the explanation as JSON."""
        return json.dumps(self.model_dump(mode="json"), indent=2, ensure_ascii=False) + "\n"
