"""The judge's own look at names of ring parts: their form, their numbers, and what earlier answers used."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

from ringset.schema.answer import Answer
from ringset.schema.study import Study

#: Letters, digits, hyphens, dots and underscores that end with no digit; then a number without leading zeros.
_NAME = re.compile(r"([a-zA-Z0-9][a-zA-Z0-9._-]*(?<![0-9]))([1-9][0-9]*)")
_PREFIX_LONGEST = 24
_NUMBER_MOST, _TAKEN_MOST = 1_000_000_000, 500_000_000

#: Places of module, teeth, width and bore in what makes a ring.
_STATED = (0, 1, 5, 7)
#: Sizes, shift, class and material of a ring, and thread, number and circle of its screws.
_Ring = tuple[object, ...]


def judge_part_names(study: Study, answer: Answer, previous: Answer | None) -> Iterator[str]:
    """Check the names of ring parts; what names which ring twice is checked with the rings.

    The names of the earlier answer `previous` can be kept, if it is given.
    """
    told = answer.part_numbers
    kept, retired = ([], []) if told is None else (told.kept, told.retired)
    # a part in production has its own name, of any form (`standing`)
    names = [part.id for part in answer.ring_parts if not part.in_production]
    yield from _forms(study, names, kept)
    yield from _numbers(names, kept, retired, _taken(study))
    for name in kept:
        if name not in names:
            yield f"part_numbers.kept: {name!r}, which is no name of ring_parts"
    for name in retired:
        if (_number(name) or _NUMBER_MOST + 1) > _NUMBER_MOST:
            yield f"part_numbers.retired: {name!r}, no name of a ring part"
    if previous is not None:
        yield from _chain(study, answer, previous)


def _number(name: str) -> int | None:
    """Return the number of a name; None where it has not the form of one."""
    found = _NAME.fullmatch(name)
    return None if found is None or len(found[1]) > _PREFIX_LONGEST else int(found[2])


def _forms(study: Study, names: list[str], kept: list[str]) -> Iterator[str]:
    """Check that names are prefix and number; those that are kept may have the prefix of an earlier study."""
    prefix = study.shop.part_prefix or "R"
    for name in names:
        number = _number(name)
        if number is None:
            yield f"ring_parts {name!r}: no name of a ring part, which is a prefix and a number"
        elif name not in kept and name != f"{prefix}{number}":
            yield f"ring_parts {name}: {prefix}{number} wanted by shop.part_prefix, for it is a new name"


def _taken(study: Study) -> list[int]:
    """Return the numbers of parts in production whose names are a prefix and a number."""
    numbers = [_number(part.name) for part in study.shop.parts_in_production]
    return [number for number in numbers if number is not None and number <= _TAKEN_MOST]


def _numbers(
    names: list[str], kept: list[str], retired: list[str], taken: list[int]
) -> Iterator[str]:
    """Check that no number stands twice, and that new ones follow the largest that was used."""
    stated = [*names, *retired]
    seen: dict[int | None, str] = {}
    for name in stated:
        number = _number(name)
        if number is not None and number in seen:
            yield f"ring_parts, part_numbers.retired: number {number} twice, {seen[number]} and {name}"
        seen.setdefault(number, name)
    if len(set(kept)) < len(kept):
        yield "part_numbers.kept: a name twice"
    new = sorted(_number(name) or 0 for name in names if name not in kept)
    used = max([*(_number(name) or 0 for name in [*kept, *retired]), *taken], default=0)
    wanted = list(range(used + 1, used + 1 + len(new)))
    if new != wanted:
        yield f"ring_parts: new numbers {new}, {wanted} wanted, which follow the largest that was used"


def _chain(study: Study, answer: Answer, previous: Answer) -> Iterator[str]:
    """Check that rings of an earlier answer keep their names, and that all its other names are retired.

    Names of parts in production are the study's: none is given to another ring, or kept for one.
    """
    told = answer.part_numbers
    if told is None:
        yield (
            "part_numbers: missing, although an earlier answer is given; the answer was not solved with it "
            "(solve --previous)"
        )
        return
    owned = {part.name for part in study.shop.parts_in_production}
    standing = {part.id for part in answer.ring_parts if part.in_production}
    before, now = _named(previous), _named(answer)
    gone = [] if previous.part_numbers is None else previous.part_numbers.retired
    used = {*before.values(), *gone}
    for ring, name in now.items():
        if name in standing:
            if (
                name in before.values()
                and before.get(ring) != name
                and not _restated(ring, before, name)
            ):
                yield f"ring_parts {name}: in production, yet another ring in the earlier answer"
            continue
        was = before.get(ring)
        if was is not None and was not in owned and name != was:
            yield f"ring_parts {name}: {was} wanted, which this ring is in the earlier answer"
        elif was is None and name in used:
            yield f"ring_parts {name}: a new ring, yet its name was used in an earlier answer"
    new = {name for name in now.values() if name not in standing}
    kept = {name for name in new if name in before.values()}
    wanted = {"kept": kept, "retired": used - set(now.values())}
    for field, given in (("kept", told.kept), ("retired", told.retired)):
        if set(given) != wanted[field]:
            yield f"part_numbers.{field}: {sorted(given)} stated, {sorted(wanted[field])} wanted"


def _restated(ring: _Ring, before: dict[_Ring, str], name: str) -> bool:
    """Say whether a ring has module, teeth, bore and width of the one that bore its name before."""
    was = next(one for one, known in before.items() if known == name)
    return [ring[place] for place in _STATED] == [was[place] for place in _STATED]


def _named(answer: Answer) -> dict[_Ring, str]:
    """Return the name of every different ring of an answer that is a prefix and a number.

    Of two parts with one number, names of parts in production are left out.
    """
    held = {part.id: part.screws for part in answer.ring_parts}
    numbers = Counter(_ending(part.id) for part in answer.ring_parts)
    own = {part.id for part in answer.ring_parts if part.in_production}
    found: dict[_Ring, str] = {}
    for ring in answer.every_ring:
        name = ring.ring_part
        if name in own and (_number(name) is None or numbers[_ending(name)] > 1):
            continue
        screws = held.get(name)
        holes = screws and (screws.size, screws.count, _dusted(screws.circle_mm))
        asked = (ring.module_mm, ring.teeth, ring.profile_shift, ring.flank_class, ring.material)
        hole = (ring.bore_mm, ring.bore_lower_um, ring.bore_upper_um)
        cut = (ring.face_width_mm, _dusted(ring.tooth_depth_mm), *map(_dusted, hole))
        found[(*asked, *cut, holes)] = name
    return found


def _ending(name: str) -> int:
    """Return the number at the end of a name of any form, 0 where there is none."""
    found = re.search(r"[0-9]+$", name)
    return int(found[0]) if found else 0


def _dusted(size: float) -> int:
    """Return a computed size in whole 1e-9: in two studies it may differ by the dust of binary arithmetic."""
    return round(size * 1e9)
