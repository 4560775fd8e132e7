// The points of a front: as they are plotted, and the study that each of them answers.

/** What is weighed or paid of a point. */
export const AMOUNTS = {
  material: (point) => point.totals.material_kg,
  cost: (point) => point.totals.cost?.total,
};

/** Return the points of a job as they are plotted: those told so far, or those of the whole front. */
export function pointsOf(job) {
  if (job?.result?.points) {
    return job.result.points.map((point) => ({
      totals: point.answer.totals,
      targets: point.targets_arcsec,
      study: point.study,
      tools: Object.fromEntries(point.answer.tool_points.map((one) => [one.robot, one.error_um])),
      largest: Math.max(...point.answer.rings.map((ring) => ring.error_arcsec)),
    }));
  }
  // told in the order of the search; shown as the whole front will stand
  const rank = (point) => [
    -point.targets[0],
    ...["cutters", "ring_parts", "heads", "material_kg"].map((name) => point.totals[name]),
  ];
  return (job?.points ?? [])
    .map((point) => ({
      totals: point.totals,
      targets: [point.target_arcsec],
      tools: point.tool_points ?? {},
      largest: point.largest_error_arcsec,
    }))
    .sort(
      (a, b) =>
        rank(a)
          .map((one, index) => one - rank(b)[index])
          .find((one) => one !== 0) ?? 0,
    );
}

/** Return whether a point is the one that was seen before: told for one target, it may later stand for several. */
export const isSame = (point, seen) =>
  point.targets.includes(seen.targets[0]) && JSON.stringify(point.totals) === JSON.stringify(seen.totals);

/** Return a study that has a point told before its front was whole as its answer. */
export function studyOf(point, job) {
  if (point.study) return point.study;
  const { totals } = point;
  const over = [job.options.over ?? ["cutters", "ring_parts", "heads", "material"]].flat();
  const amount = ["cost", "material"].find((wish) => over.includes(wish));
  const counts = over.filter((wish) => wish !== amount).sort((a, b) => (a in AMOUNTS) - (b in AMOUNTS));
  const ceilings = Object.fromEntries(
    counts.map((wish) =>
      wish === "material" ? ["material_max_kg", totals.material_kg] : [`${wish}_max`, totals[wish]],
    ),
  );
  const first = [amount, ...counts].filter(Boolean);
  const given = job.study.wishes?.order ?? [];
  const wishes = {
    ...job.study.wishes,
    ...ceilings,
    give: {},
    order: [...first, ...given.filter((wish) => !first.includes(wish))],
  };
  return { ...job.study, wishes, target: { ...job.study.target, angle_target_arcsec: point.targets[0] } };
}
