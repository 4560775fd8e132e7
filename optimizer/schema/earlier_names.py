"""What names an earlier answer gave to its rings, and which rings are the same in two answers."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from ringset.errors import Fault, StudyError, shown_in_error
from ringset.schema.answer import Answer, FaceScrews, JointRing
from ringset.schema.part_numbers import (
    NUMBER_MOST,
    PART_NAME_PATTERN,
    PART_NAME_WORDS,
    part_name_number,
)
from ringset.schema.study import Study

#: What makes two rings the same one, in whatever answers: all that one drawing fixes of its steel.
RingKey = tuple[float | int | str | None, ...]


@dataclass(frozen=True)
class EarlierNames:
    """The names of an earlier answer by their rings, and those that it states as retired."""

    of_rings: dict[RingKey, str]
    retired: tuple[str, ...]


def answer_ring_key(ring: JointRing, screws: FaceScrews | None) -> RingKey:
    """Return what makes a ring the same in two answers; `screws` are those of its part.

    What is computed is rounded to 1e-9: two studies may count one bore in other steps. What a study states
    is not, so that no two parts of one answer become the same. The other diameters, rim and masses follow
    from these sizes, and how the teeth are cut makes no other ring.
    """
    stated = (ring.module_mm, ring.teeth, ring.face_width_mm, ring.profile_shift, ring.flank_class)
    computed = [ring.bore_mm, ring.bore_lower_um, ring.bore_upper_um, ring.tooth_depth_mm]
    holes = () if screws is None else (screws.size, screws.count, round(screws.circle_mm, 9))
    return (*stated, ring.material, *(round(value, 9) for value in computed), *holes)


def earlier_part_names(previous: Answer) -> EarlierNames:
    """Return the names of an earlier answer; raises StudyError with `earlier_name_faults`."""
    if faults := earlier_name_faults(previous):
        raise StudyError(faults)
    told = previous.part_numbers
    return EarlierNames(_names(previous), () if told is None else tuple(told.retired))


def earlier_name_faults(previous: Answer, at: str = "previous") -> list[Fault]:
    """Return why the names of an earlier answer cannot be kept, with paths below `at`."""
    return [
        Fault(f"{at}.{path}", given, allowed) for path, given, allowed in _name_faults(previous)
    ]


def standing_name_faults(study: Study, previous: Answer) -> list[Fault]:
    """Return the parts in production that bear a name which an earlier answer has for another ring."""
    rings = {ring.ring_part: ring for ring in previous.every_ring}
    faults = []
    for index, part in enumerate(study.shop.parts_in_production):
        ring = rings.get(part.name)
        sizes = (
            () if ring is None else (ring.module_mm, ring.teeth, ring.bore_mm, ring.face_width_mm)
        )
        if ring is None or part.is_ring(*sizes):
            continue
        told = f"{ring.teeth} teeth of module {ring.module_mm:g}, bore {ring.bore_mm:g}"
        given = f"{shown_in_error(part.name)}, which is another ring in the earlier answer ({told})"
        allowed = "that ring, or a name that the earlier answer does not have"
        faults.append(Fault(f"shop.parts_in_production[{index}].name", given, allowed))
    return faults


def _names(answer: Answer) -> dict[RingKey, str]:
    """Return the names of the answer's rings; of those in production the ones that have a form to be kept."""
    screws = {part.id: part.screws for part in answer.ring_parts}
    given = [part.id for part in answer.ring_parts if not part.in_production]
    numbers = Counter(part_name_number(part.id) for part in answer.ring_parts)
    kept = {*given, *(name for name in screws if numbers[part_name_number(name)] == 1)}
    return {
        answer_ring_key(ring, screws.get(ring.ring_part)): ring.ring_part
        for ring in answer.every_ring
        if ring.ring_part in kept and re.fullmatch(PART_NAME_PATTERN, ring.ring_part)
    }


def _name_faults(answer: Answer) -> Iterator[tuple[str, str, str]]:
    """Yield path, given and allowed of every name that is none, or that clashes with another."""
    if not answer.rings:
        yield "rings", f"none ({answer.status})", "the last answer that has rings"
        return
    told = answer.part_numbers
    listed = [
        (f"ring_parts[{i}].id", part.id)
        for i, part in enumerate(answer.ring_parts)
        if not part.in_production
    ]
    gone = [] if told is None else told.retired
    seen: dict[int, str] = {}
    for path, name in [
        *listed,
        *((f"part_numbers.retired[{i}]", one) for i, one in enumerate(gone)),
    ]:
        number = part_name_number(name)
        if re.fullmatch(PART_NAME_PATTERN, name) is None:
            yield path, shown_in_error(name), PART_NAME_WORDS
        elif number > NUMBER_MOST:
            yield path, shown_in_error(name), f"a number up to {NUMBER_MOST}"
        elif number in seen:
            yield path, shown_in_error(name), f"another number than that of {seen[number]}"
        seen.setdefault(number, name)
    yield from _ring_faults(answer, {part.id for part in answer.ring_parts})


def _ring_faults(answer: Answer, listed: set[str]) -> Iterator[tuple[str, str, str]]:
    """Yield rings that share a name with another ring, or have two names, and parts without a ring."""
    screws = {part.id: part.screws for part in answer.ring_parts}
    rings: dict[str, RingKey] = {}
    names: dict[RingKey, str] = {}
    places = [(f"rings[{i}]", ring) for i, ring in enumerate(answer.rings)]
    places += [(f"second_rings[{i}]", ring) for i, ring in enumerate(answer.second_rings)]
    for path, ring in places:
        name = ring.ring_part
        key = answer_ring_key(ring, screws.get(name))
        if name not in listed:
            yield f"{path}.ring_part", shown_in_error(name), "one of ring_parts"
        elif rings.setdefault(name, key) != key:
            yield f"{path}.ring_part", shown_in_error(name), "one name for each ring"
        elif names.setdefault(key, name) != name:
            yield (
                f"{path}.ring_part",
                shown_in_error(name),
                f"{names[key]}, for it is the same ring",
            )
    for place, part in enumerate(answer.ring_parts):
        if part.id not in rings:
            yield f"ring_parts[{place}].id", shown_in_error(part.id), "the name of some ring"
