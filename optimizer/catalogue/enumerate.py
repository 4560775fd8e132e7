"""Stage 1: every ring that each joint could take, as one table with a row per ring and head count.

A ring fits a joint if its module and tooth count suit head and shop, its tips lie in the joint's
window and, with head and gap, in its housing, and its bore is a whole number of bore steps inside the bore
window (one of the bores listed, where a list is stated) with an allowed rim. No
physics beyond sizes here: the limits on error, rate and roundness come with `rate`.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ringset.arrays import Floats, Ints
from ringset.catalogue.joints import JointRef, catalogue_joints, catalogue_modules
from ringset.catalogue.limits import catalogue_bore_steps
from ringset.catalogue.partners import catalogue_coprime_partners, catalogue_pair_count
from ringset.catalogue.ring_sizes import RingSizes
from ringset.catalogue.rows import NO_SECOND, Catalogue, too_many_catalogue_rows
from ringset.catalogue.windows import catalogue_bore_window, catalogue_tooth_window
from ringset.schema.study import Study

#: Most rows at a time; beyond it the bore step or the windows are absurd.
ROWS_MAX = 2_500_000
#: Rows from which the joints that follow come in another block.
BLOCK_ROWS = 400_000


def catalogue(study: Study) -> Catalogue:
    """Return all rings of every joint of a canonical study, sorted as `Catalogue` says.

    Raises StudyError at `shop.bore_step_mm` beyond ROWS_MAX rows. A joint without any ring has no rows.
    """
    ((_, rows),) = catalogue_blocks(study, None)
    return rows


def catalogue_blocks(
    study: Study, block_rows: int | None = BLOCK_ROWS
) -> Iterator[tuple[range, Catalogue]]:  # fmt: skip
    """Yield the catalogue joint after joint, in blocks of about `block_rows` rows, with their joints.

    Every block knows all joints and has rows of some. None makes one block. Raises StudyError if one block
    passes ROWS_MAX.
    """
    refs = catalogue_joints(study)
    modules = catalogue_modules(study.shop)
    parts: list[tuple[Ints, ...]] = []
    total, first = 0, 0
    for index, ref in enumerate(refs):
        parts.append(_joint_rows(study, index, ref, modules))
        total += len(parts[-1][0])
        if total > ROWS_MAX:
            raise too_many_catalogue_rows(study.shop, ROWS_MAX)
        last = index == len(refs) - 1
        if last or (block_rows is not None and total >= block_rows):
            joined = [np.concatenate(column) for column in zip(*parts, strict=True)]
            if not any(ref.joint.second_ring for ref in refs[first : index + 1]):
                joined[5] = NO_SECOND
            rows = Catalogue(refs, modules, study.shop.bore_step_mm, *joined)
            yield range(first, index + 1), rows
            parts, total, first = [], 0, index + 1


def _joint_rows(study: Study, index: int, ref: JointRef, modules: Floats) -> tuple[Ints, ...]:
    """Return columns (joint, module, teeth, bore steps, heads, second teeth) of one joint, in order."""
    module, teeth = catalogue_tooth_window(study, ref, modules)
    low, high = catalogue_bore_window(study, ref, RingSizes(study.shop, modules[module], teeth))
    counts = np.maximum(high - low + 1, 0)
    ring = np.repeat(np.arange(len(module)), counts)
    bores = low[ring] + np.arange(len(ring)) - np.repeat(np.cumsum(counts) - counts, counts)
    listed = catalogue_bore_steps(study, ref)
    if listed is not None:
        kept = np.isin(bores, listed)
        ring, bores = ring[kept], bores[kept]
    counts = np.array(ref.joint.head_counts, dtype=np.int64)
    module, teeth = module[ring], teeth[ring]
    second = np.zeros(len(ring), dtype=np.int64)
    if ref.joint.second_ring:
        if catalogue_pair_count(module, bores) * len(counts) > 2 * ROWS_MAX:
            raise too_many_catalogue_rows(study.shop, ROWS_MAX)
        pair, second = catalogue_coprime_partners(study.shop, module, teeth, bores)
        module, teeth, bores = module[pair], teeth[pair], bores[pair]
    rows = len(module) * len(counts)
    return (
        np.full(rows, index, dtype=np.int64),
        np.repeat(module, len(counts)),
        np.repeat(teeth, len(counts)),
        np.repeat(bores, len(counts)),
        np.tile(counts, len(module)),
        np.repeat(second, len(counts)),
    )
