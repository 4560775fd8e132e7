"""Whether joints find their place after power loss, and by what, in plain sentences.

One ring with one periodic track is absolute only inside one pitch. Two things tell the rest:

- "counter": the head of the joint states `backup_polling_ms`, `backup_counter_bits` and `backup_current_ua`
  (above 0, for a head that draws nothing from the battery counts nothing without power),
  its robot states a `battery`, the counter has the bits that `turns_range` needs, and the joint turns no
  faster without power than the head can count (`unpowered_speed_rpm`, where it is stated). The head then
  counts pitches while there is no power. It knows the turn too. Whatever empties the battery, or turns the
  joint faster, takes the reference away.
- "second_ring": the joint states `second_ring`, and in the worst case of both rings their errors differ by
  less than the pair tolerates (`physics/vernier.py`). Both rings together name the pitch within a turn as
  soon as power is back, whatever happened before; the turn only where `turns_range` is at most 1.

Where neither holds the word is "none", and the joint must be referenced after each power loss.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from ringset.schema.answer_types import AbsoluteBy

#: Joints that a sentence names; of more it tells how many there are.
NAMED_MOST = 6

#: By what a joint finds its place, in a few words.
PLACE_WORDS: dict[AbsoluteBy, str] = {
    "none": "must be referenced",
    "counter": "counter and battery",
    "second_ring": "second ring",
    "counter_and_second_ring": "counter, second ring",
}


class Place(NamedTuple):
    """One joint: its name, by what it finds its place, whether its turn too, and what the head can count."""

    label: str
    absolute_by: AbsoluteBy
    turns_known: bool
    countable_rpm: float | None


def study_absolute_word(counter: bool, second_ring: bool) -> AbsoluteBy:
    """Return the word for a joint that has a counter that is kept, a second ring that tells, both or none."""
    if counter and second_ring:
        return "counter_and_second_ring"
    if counter:
        return "counter"
    return "second_ring" if second_ring else "none"


def study_absolute_sentences(places: Sequence[Place]) -> list[str]:
    """Return one sentence for all joints that find their place alike, in the order of `AbsoluteBy`."""
    return list(_sentences(places))


def _sentences(places: Sequence[Place]) -> Iterator[str]:
    for word in ("counter", "second_ring", "counter_and_second_ring", "none"):
        for known in (True, False):
            mine = [p for p in places if p.absolute_by == word and p.turns_known == known]
            if mine:
                yield f"After a power loss ({_names(mine, len(places))}): {_says(word, known, mine)}"


def _names(mine: Sequence[Place], joints: int) -> str:
    """Name some of so many joints; all of several are not named one by one."""
    if len(mine) == joints and joints > 1:
        return "every joint"
    more = len(mine) - NAMED_MOST
    labels = [place.label for place in mine[:NAMED_MOST]]
    return ", ".join(labels) + (f" and {more} more" if more > 0 else "")


def _says(word: str, turns_known: bool, mine: Sequence[Place]) -> str:
    if word == "none":
        return "it must be referenced; its ring is absolute inside one pitch only."
    if word == "second_ring":
        tells = "the place, for the joint goes no further than one turn"
        tells = tells if turns_known else "the angle within a turn, but not which turn"
        return f"the second ring tells {tells}, at power-up."
    rpm = min(place.countable_rpm or 0.0 for place in mine)
    lost = "the reference is lost"
    if word == "counter_and_second_ring":
        lost = "the second ring still tells the angle within a turn"
    return (
        "it finds its place by counter and battery, for the head counts pitches without power, "
        f"below {rpm:.4g} rpm; if the battery fails, {lost}."
    )
