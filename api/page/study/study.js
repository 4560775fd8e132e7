// The study being stated: the JSON document itself, with undo, kept for this tab.

const KEPT = "ringset.study";
const MOST_STEPS = 300;
const TOGETHER_MS = 1000;

export const EMPTY = { robots: [{ name: "arm", joints: [{}] }], target: {} };

let doc = read() ?? structuredClone(EMPTY);
let past = [];
let future = [];
let lastPlace = "";
let lastTime = 0;
const listeners = [];

function read() {
  try {
    const found = JSON.parse(sessionStorage.getItem(KEPT));
    return isStudy(found) ? found : null;
  } catch {
    return null;
  }
}

/** Return whether a document can be edited here: an object; robots and joints, where given, are lists. */
export function isStudy(given) {
  const object = (value) => value !== null && typeof value === "object" && !Array.isArray(value);
  return (
    object(given) &&
    (given.robots === undefined ||
      (Array.isArray(given.robots) &&
        given.robots.every(
          (robot) =>
            object(robot) &&
            (robot.joints === undefined || (Array.isArray(robot.joints) && robot.joints.every(object))),
        )))
  );
}

export const current = () => doc;
export const canUndo = () => past.length > 0;
export const canRedo = () => future.length > 0;
export const onChange = (listener) => listeners.push(listener);

function become(next, how) {
  doc = next;
  try {
    sessionStorage.setItem(KEPT, JSON.stringify(doc));
  } catch {
    /* too large to be kept: it stands on the page all the same */
  }
  for (const listener of listeners) listener(doc, how);
}

/** Replace the study; a step that can be undone. `place` joins quick steps at one place into one. */
export function replace(next, place = "") {
  if (JSON.stringify(next) === JSON.stringify(doc)) return;
  const now = performance.now();
  if (!place || place !== lastPlace || now - lastTime > TOGETHER_MS) past.push(doc);
  if (past.length > MOST_STEPS) past.shift();
  [lastPlace, lastTime, future] = [place, now, []];
  become(next, "edit");
}

export function undo() {
  if (!past.length) return;
  future.push(doc);
  lastPlace = "";
  become(past.pop(), "undo");
}

export function redo() {
  if (!future.length) return;
  past.push(doc);
  lastPlace = "";
  become(future.pop(), "redo");
}

/** Return what a study holds at some keys. */
export function at(study, keys) {
  return keys.reduce((here, key) => here?.[key], study);
}

/** Return a study with a value at some keys; undefined takes the field out, and parts left empty with it. */
export function withValue(study, keys, value) {
  const copy = structuredClone(study);
  let here = copy;
  for (const [place, key] of keys.slice(0, -1).entries()) {
    if (here[key] === null || typeof here[key] !== "object") {
      if (value === undefined) return copy;
      here[key] = typeof keys[place + 1] === "number" ? [] : {};
    }
    here = here[key];
  }
  const last = keys.at(-1);
  if (value !== undefined) here[last] = value;
  else delete here[last];
  const part = keys.length === 2 || keys.length === 3 ? keys.slice(0, -1) : [];
  if (
    value === undefined &&
    part.length &&
    typeof part.at(-1) === "string" &&
    !["target", "robots"].includes(part[0]) &&
    !Object.keys(here).length
  ) {
    return withValue(copy, part, undefined);
  }
  return copy;
}

export const set = (keys, value) => replace(withValue(doc, keys, value), pointer(keys));

/** Return keys as a JSON Pointer (RFC 6901). */
export function pointer(keys) {
  return keys.map((key) => `/${String(key).replaceAll("~", "~0").replaceAll("/", "~1")}`).join("");
}

/** Return a path of the API, such as joints.wrist.tip_max_mm, as keys into a study; null if there is none. */
export function keysOf(study, path) {
  const parts = [];
  for (const found of path.matchAll(/"(?:[^"\\]|\\.)*"|[^.]+/g)) {
    parts.push(found[0].startsWith('"') ? JSON.parse(found[0]) : found[0]);
  }
  const robots = study.robots ?? [];
  const joint = (robot, name) => (robots[robot]?.joints ?? []).findIndex((j) => j.name === name);
  if (parts[0] === "joints") {
    const robot = robots.findIndex((_, index) => joint(index, parts[1]) >= 0);
    return robot < 0 ? null : ["robots", robot, "joints", joint(robot, parts[1]), ...parts.slice(2)];
  }
  if (parts[0] === "robots") {
    const robot = robots.findIndex((known) => known.name === parts[1]);
    if (robot < 0) return null;
    if (parts[2] !== "joints") return ["robots", robot, ...parts.slice(2)];
    const index = joint(robot, parts[3]);
    return index < 0 ? null : ["robots", robot, "joints", index, ...parts.slice(4)];
  }
  return parts;
}

/** Return every joint with its robot and their places, in the order of the study. */
export function joints(study) {
  return (study?.robots ?? []).flatMap((robot, r) =>
    (robot.joints ?? []).map((joint, j) => ({ robot, joint, r, j })),
  );
}
