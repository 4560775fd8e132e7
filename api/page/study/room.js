// How large the tips of a joint's ring may be: by their own limit, and by what head and gap leave of the housing.

import { inMm } from "../lib/texts.js";
import { fieldsAt } from "./fields.js";

const given = (value) => {
  const mm = inMm(value);
  return mm !== null && mm > 0 && mm < 1e5 ? mm : null;
};

/** Return the largest tip diameter in mm that a joint states room for; null where it states none. */
export function tipRoom(study, joint) {
  const tips = given(joint.tip_max_mm);
  const housing = given(joint.housing_max_mm);
  if (housing === null) return tips;
  const left = housing - 2 * (narrowestGap(study, joint) + headFact(study, joint, "height_above_tips_mm"));
  if (left <= 0) return tips;
  return tips === null ? left : Math.min(tips, left);
}

/** Return the narrowest gap in mm at which the head of a joint may stand. */
function narrowestGap(study, joint) {
  const range = given(headOf(study, joint).gap_min_mm);
  return range ?? headFact(study, joint, "gap_mm");
}

const headOf = (study, joint) => (joint.head ? study.heads?.[joint.head] : study.head) ?? {};

/** Return a number of a joint's head: as stated, else its default. */
function headFact(study, joint, name) {
  const stated = inMm(headOf(study, joint)[name]);
  if (stated !== null) return stated;
  return fieldsAt("head. or heads.NAME.").find((fact) => fact.name === name)?.default ?? 0;
}
