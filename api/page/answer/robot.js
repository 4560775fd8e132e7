// All rings of the robots to one scale along the arm. Each stands in the window that its joint leaves:
// beyond the outer edge is housing, inside the inner edge the shaft; a ring lives between.

import { byId, el, fill, svg } from "../lib/dom.js";
import { answerKey, badge, markOf, sign } from "../lib/marks.js";
import { inMm, num, sig, t } from "../lib/texts.js";
import { tipRoom } from "../study/room.js";
import { joints } from "../study/study.js";
import { fieldWords, fieldOf } from "../study/words.js";

const LOOK = 6; // px around a window
const SIZES = ["bore_min_mm", "bore_max_mm", "tip_max_mm", "tip_min_mm", "housing_max_mm"];
const arch = (radius) => `M${-radius} 0A${radius} ${radius} 0 0 1 ${radius} 0`;
const band = (inner, outer) =>
  `M${-outer} 0A${outer} ${outer} 0 0 1 ${outer} 0H${inner}A${inner} ${inner} 0 0 0 ${-inner} 0Z`;
const length = (value) => {
  const mm = inMm(value);
  return mm > 0 && mm < 1e5 ? mm : null;
};

/** Figures as they stand, by joint: only what has changed is drawn anew. */
let drawn = new Map();
let last = "";
let width = 0;

/** Have `again` called whenever there is more or less room: asking for it at every drawing would be slow. */
export function watchRoom(again) {
  width = byId("arm").clientWidth;
  new ResizeObserver(([entry]) => {
    if (Math.abs(entry.contentRect.width - width) < 1) return;
    width = entry.contentRect.width;
    again();
  }).observe(byId("arm"));
}

/** Draw the robots of a study with the rings of an answer, if there is one; `choose` is told a click. */
export function showRobots(study, shown, chosen, stale, choose, blocked) {
  const box = byId("arm");
  box.classList.toggle("stale", stale);
  const all = joints(study);
  const scale = scaleFor(all.map(({ joint }) => length(tipRoom(study, joint)) ?? 60));
  const rings = new Map((shown?.answer.rings ?? []).map((ring) => [`${ring.robot}/${ring.joint}`, ring]));
  const several = (study.robots ?? []).length > 1;
  const held = document.activeElement?.dataset?.joint;
  const next = new Map();
  const nodes = all.flatMap((one) => {
    const name = `${one.robot.name}/${one.joint.name}`;
    const blockers = blocked.has(one.joint.name) || blocked.has(name);
    const { joint } = one;
    const tips = tipRoom(study, joint);
    const key = JSON.stringify([
      one.r,
      one.j,
      name,
      joint.bore_min_mm,
      joint.bore_max_mm,
      tips,
      scale,
      blockers,
      rings.has(name) ? answerKey(shown.answer) : "",
    ]);
    const node =
      drawn.get(key) ?? figure(one, rings.get(name), shown?.answer, { name, scale, choose, blockers, tips });
    node.setAttribute("aria-pressed", String(name === chosen));
    next.set(key, node);
    return several && one.j === 0 ? [el("h3", {}, String(one.robot.name ?? "")), node] : [node];
  });
  drawn = next;
  place(box, nodes);
  if (held && document.activeElement?.dataset?.joint !== held)
    box.querySelector(`[data-joint="${CSS.escape(held)}"]`)?.focus();
  const ruler = all.length ? `${scale}` : "";
  if (ruler === last) return;
  last = ruler;
  fill(
    byId("arm-scale"),
    all.length ? t("arm.scale", { mm: num(50) }) : "",
    all.length
      ? svg(
          "svg",
          { width: 50 * scale + 2, height: 10, "aria-hidden": "true" },
          svg("path", { d: `M1 2V8M1 5H${50 * scale + 1}M${50 * scale + 1} 2V8`, class: "ruler" }),
        )
      : null,
  );
}

/** Put nodes into a box; those that stand where they should are not touched, which saves laying them out. */
function place(box, nodes) {
  const stay = new Set(nodes);
  const moved = [...box.children].some((node, index) => node !== nodes[index] && stay.has(node));
  if (moved || nodes.length !== box.children.length) {
    fill(box, nodes);
    return;
  }
  for (const [index, node] of nodes.entries())
    if (box.children[index] !== node) box.children[index].replaceWith(node);
}

/** Return pixels for a millimetre: all joints in one row where that leaves them large enough. */
function scaleFor(tips) {
  const largest = Math.max(1, ...tips);
  const sum = tips.reduce((all, tip) => all + Math.max(tip, 0.55 * largest), 0);
  const row = (width - 38 * tips.length) / Math.max(1, sum); // frames and gaps take the rest
  const least = Math.min(150, (width - 60) / 2) / largest;
  return Math.max(least, Math.min(row, 250 / largest));
}

function figure({ robot, joint, j }, ring, answer, look) {
  const mark = ring ? markOf(answer, ring.ring_part) : 0;
  const wide = Math.max((length(look.tips) ?? 60) * look.scale + 2 * LOOK, 112);
  const state = ring ? ringWords(ring) : t("arm.noRing");
  const blocker = look.blockers ? t("arm.blocked") : "";
  const node = el(
    "button",
    {
      type: "button",
      class: `joint${look.blockers ? " blocked" : ""}`,
      disabled: !ring && !look.blockers,
      "data-joint": look.name,
      title: `${robot.name}, ${joint.name ?? ""}: ${state} ${blocker}`.trim(),
      on: { click: () => look.choose(look.name) },
    },
    drawing(joint, ring, mark, look, wide),
    el("span", { class: "name" }, String(joint.name ?? t("table.row", { row: j + 1 }))),
    ring
      ? el(
          "span",
          { class: "part" },
          badge(mark),
          el("span", { class: "id" }, ring.ring_part),
          el("small", {}, `${num(ring.module_mm)} × ${num(ring.teeth)}`),
        )
      : el("span", { class: "part" }, look.blockers ? `⚠ ${blocker}` : "–"),
    meter(ring),
    el("span", { class: "room" }, ring ? closest(ring) : " "),
  );
  node.style.width = `${wide + 8}px`;
  return node;
}

function drawing(joint, ring, mark, { scale, tips }, wide) {
  const [inner, outer, most] = [joint.bore_min_mm, tips, joint.bore_max_mm].map((size) => {
    const given = length(size);
    return given === null ? null : (given / 2) * scale;
  });
  const edge = outer ?? 30;
  const top = edge + LOOK;
  return svg(
    "svg",
    {
      viewBox: `${-wide / 2} ${-top} ${wide} ${top + 10}`,
      width: wide,
      height: top + 10,
      "aria-hidden": "true",
    },
    svg("rect", {
      x: -edge - LOOK,
      y: -edge - LOOK,
      width: 2 * (edge + LOOK),
      height: edge + LOOK,
      class: "housing",
      rx: 3,
    }),
    svg("path", { d: `${arch(edge)}Z`, class: "window" }),
    ring ? ringShape(ring, mark, scale) : null,
    inner === null ? null : svg("path", { d: `${arch(Math.min(inner, edge))}Z`, class: "shaft" }),
    most === null || inner === null
      ? null
      : svg("path", { d: arch(Math.min(most, edge)), class: "bore-limit" }),
    svg("path", { d: arch(edge), class: "tip-limit" }),
    svg("path", { d: `M${-wide / 2} 0H${wide / 2}`, class: "axis" }),
    ring
      ? svg(
          "g",
          { transform: `translate(0 ${-Math.min(14, (inner ?? 20) / 2)})` },
          sign(mark, Math.min(7, (inner ?? 20) / 3)),
        )
      : null,
  );
}

/** The ring with its count of teeth; their true shape is in the view of one ring. */
function ringShape(ring, mark, scale) {
  const [bore, root, tip] = [ring.bore_mm, ring.root_diameter_mm, ring.tip_diameter_mm].map(
    (size) => (size / 2) * scale,
  );
  return svg(
    "g",
    { class: `ring part-${mark}` },
    svg("path", { d: band(bore, root), fill: `url(#hatch-${mark})`, class: "body" }),
    svg("path", {
      d: arch((root + tip) / 2),
      class: "teeth",
      pathLength: ring.teeth / 2, // half of the ring is drawn
      "stroke-width": tip - root,
      "stroke-dasharray": "0.5 0.5",
    }),
    svg("path", { d: arch(root), class: "root" }),
  );
}

/** Error against target: a bar, its length in words beside it. */
function meter(ring) {
  const share = ring ? ring.error_arcsec / ring.target_arcsec : 0;
  const allowed = ring?.margins.find((one) => one.limit === "angle_target_arcsec")?.allowed;
  const edge = allowed < ring?.target_arcsec ? 100 * (allowed / ring.target_arcsec) : null; // of the reserve
  return el(
    "span",
    { class: "meter" },
    svg(
      "svg",
      { viewBox: "0 0 100 6", preserveAspectRatio: "none", "aria-hidden": "true" },
      svg("rect", { width: 100, height: 6, class: "trough" }),
      svg("rect", { width: 100 * Math.min(1, share), height: 6, class: "filled" }),
      edge === null ? null : svg("rect", { x: edge, width: 1, height: 6, class: "edge" }),
    ),
    el(
      "small",
      {},
      ring ? t("arm.error", { error: sig(ring.error_arcsec, 3), target: sig(ring.target_arcsec, 4) }) : " ",
    ),
  );
}

function closest(ring) {
  const margin = ring.margins
    .filter((one) => SIZES.includes(one.limit))
    .sort((a, b) => a.margin - b.margin)[0];
  if (margin && Math.abs(margin.margin) < 1e-6)
    return t("arm.touches", { field: fieldWords(fieldOf(margin.limit)) });
  return margin
    ? t("arm.room", {
        field: fieldWords(fieldOf(margin.limit)),
        room: sig(margin.margin, 3),
        unit: margin.unit,
      })
    : " ";
}

const ringWords = (ring) =>
  t("arm.ring", {
    part: ring.ring_part,
    module: ring.module_mm,
    teeth: ring.teeth,
    bore: sig(ring.bore_mm, 5),
    tip: sig(ring.tip_diameter_mm, 5),
    heads: ring.heads,
    error: sig(ring.error_arcsec, 3),
    target: sig(ring.target_arcsec, 4),
  });
