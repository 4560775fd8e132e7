// What keeps a study from being asked: what is missing, and beside it what cannot be right.

import { isLength, num, t } from "../lib/texts.js";
import { fieldsAt, label } from "./fields.js";
import { pointer } from "./study.js";

const NEEDED = ["name", "bore_min_mm", "bore_max_mm", "tip_max_mm"];
const HOUSED = NEEDED.slice(0, -1); // of a joint that states its housing, the tips need no limit of their own
const MOST = 3; // owners that are told one by one
const missing = (value) => value === undefined || value === "";

/** Return why a value cannot be right, as far as that shows at once; the API judges the rest. */
function wrong(value, fact) {
  if (!["number", "integer"].includes(fact.kind) || missing(value)) return "";
  if (isLength(value, fact.unit)) return "";
  if (typeof value !== "number") return "number";
  return value < (fact.minimum ?? -Infinity) || value > (fact.maximum ?? Infinity) ? "range" : "";
}

/** Gaps by study: a study is never changed in place, and is looked at whenever something is drawn. */
const seen = new WeakMap();

/** Return every gap: its keys, fact, owner and kind: missing, number or range. */
export function gaps(study) {
  if (!seen.has(study)) seen.set(study, search(study));
  return seen.get(study);
}

function search(study) {
  const found = [];
  const places = ["robots[].", "robots[].joints[].", "target."];
  const facts = Object.fromEntries(places.map((place) => [place, fieldsAt(place)]));
  const look = (owner, given, place, keys, needed) => {
    for (const fact of facts[place]) {
      const value = given?.[fact.name];
      const kind = needed.includes(fact.name) && missing(value) ? "missing" : wrong(value, fact);
      if (kind) found.push({ owner, fact, kind, keys: [...keys, fact.name] });
    }
  };
  for (const [r, robot] of (study.robots ?? []).entries()) {
    look(t("robot.number", { number: r + 1 }), robot, "robots[].", ["robots", r], ["name"]);
    for (const [j, joint] of (robot.joints ?? []).entries()) {
      const owner = missing(joint.name) ? t("table.row", { row: j + 1 }) : String(joint.name);
      const needed = missing(joint.housing_max_mm) ? NEEDED : HOUSED;
      look(owner, joint, "robots[].joints[].", ["robots", r, "joints", j], needed);
    }
  }
  look("", study.target, "target.", ["target"], ["angle_target_arcsec"]);
  return found;
}

/** Return whether everything that only the user can know is stated, so that it is worth asking. */
export function complete(study) {
  const robots = study.robots ?? [];
  return (
    robots.length > 0 &&
    robots.every((robot) => robot.joints?.length > 0) &&
    !gaps(study).some((gap) => gap.kind === "missing")
  );
}

/** Return in words what is missing and what cannot be right. */
export function gapWords(study) {
  const found = gaps(study);
  const bare = (study.robots ?? []).every((robot) => robot.joints?.length > 0) && study.robots?.length > 0;
  return [
    ...(bare ? [] : [t("gap.joints")]),
    ...["missing", "number", "range"].map((kind) => {
      const owners = new Map();
      for (const { owner, fact } of found.filter((gap) => gap.kind === kind))
        owners.set(owner, [...(owners.get(owner) ?? []), label(fact)]);
      const told = [...owners].map(([owner, some]) => (owner ? `${owner}: ` : "") + some.join(", "));
      if (!told.length) return "";
      const rest = told.length - MOST - 1;
      const cells = rest > 0 ? [...told.slice(0, MOST), told.at(-1)] : told;
      return t(`gap.${kind}`, { cells: cells.join("; ") }) + (rest > 0 ? ` ${t("gap.more", { count: rest })}` : "");
    }),
  ]
    .filter(Boolean)
    .join(" ");
}

/** Mark the cells of gaps where they stand, and no others; an untouched study has none to mark. */
export function markGaps(study, wanted) {
  const joints = (study.robots ?? []).flatMap((robot) => robot.joints ?? []);
  const begun = joints.length > 1 || joints.some((joint) => Object.keys(joint).length > 0);
  const marked = new Map();
  for (const gap of wanted && begun ? gaps(study) : []) marked.set(pointer(gap.keys), gap);
  for (const node of document.querySelectorAll("#study [data-gap]"))
    if (!marked.has(node.dataset.pointer)) clear(node);
  for (const [place, { fact, kind }] of marked) {
    const node = document.querySelector(`#study [data-pointer="${CSS.escape(place)}"]`);
    if (!node) continue;
    const limits = { low: num(fact.minimum ?? -Infinity), high: num(fact.maximum ?? Infinity) };
    node.dataset.gap = kind;
    node.setAttribute("aria-invalid", "true");
    node.title = `${label(fact)}: ${t(`gap.${kind}.cell`, limits)}`;
  }
}

function clear(node) {
  delete node.dataset.gap;
  node.removeAttribute("aria-invalid");
  node.removeAttribute("title");
}
