// The mark of a ring part: a sign, a hatch and a tint that always go together, and its name beside them.

import { svg } from "./dom.js";

/** Signs within a circle of radius 1. */
const SIGNS = [
  "M1 0A1 1 0 1 1-1 0A1 1 0 1 1 1 0Z",
  "M-.85-.85H.85V.85H-.85Z",
  "M0-1L1 .8H-1Z",
  "M0-1.1L1.1 0L0 1.1L-1.1 0Z",
  "M0 1L1-.8H-1Z",
  "M-.35-1H.35V-.35H1V.35H.35V1H-.35V.35H-1V-.35H-.35Z",
  "M-.5-.9H.5L1 0L.5.9H-.5L-1 0Z",
  "M0-1.1L.3-.35L1.1-.3L.45.2L.7 1L0 .5L-.7 1L-.45.2L-1.1-.3L-.3-.35Z",
];
/** Lines of the hatches in a square of 6. */
const HATCHES = [
  "M-1 7L7-1M-4 4L4-4M2 10L10 2",
  "M0 3H6",
  "M-1-1L7 7M-4 2L4 10M2-4L10 4",
  "M3 0V6",
  "M0 3H6M3 0V6",
  "M1.5 1.5h.1M4.5 4.5h.1",
];
export const KINDS = SIGNS.length;

/** Return a text that is another for every answer with other rings or other names of them. */
export const answerKey = (answer) => [answer.study_sha256, ...answer.rings.map((one) => one.ring_part)].join(" ");

/** Return the number of a part's mark: that of its place among the parts of its answer. */
export function markOf(answer, id) {
  return (
    Math.max(
      0,
      answer.ring_parts.findIndex((part) => part.id === id),
    ) % KINDS
  );
}

/** Return the sign of a part around (0, 0). */
export function sign(mark, size) {
  return svg("path", {
    d: SIGNS[mark % KINDS],
    class: `sign part-${mark % KINDS}`,
    transform: `scale(${size})`,
  });
}

/** Return the sign of a part as a picture of its own. */
export function badge(mark) {
  return svg("svg", { viewBox: "-1.3 -1.3 2.6 2.6", class: "badge", "aria-hidden": "true" }, sign(mark, 1));
}

/** Return the hatches of all marks; they are named hatch-0 and so on. */
export function hatches() {
  return svg(
    "svg",
    { width: 0, height: 0, "aria-hidden": "true", class: "hidden" },
    svg(
      "defs",
      {},
      SIGNS.map((_, mark) =>
        svg(
          "pattern",
          { id: `hatch-${mark}`, width: 6, height: 6, patternUnits: "userSpaceOnUse" },
          svg("rect", { width: 6, height: 6, class: `tint part-${mark}` }),
          svg("path", { d: HATCHES[mark % HATCHES.length], class: `line part-${mark}` }),
        ),
      ),
    ),
  );
}
