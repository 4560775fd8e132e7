// One ring: its teeth true to shape, what holds it, its error term by term, and what would lower it.

import { byId, el, fill, svg, table } from "../lib/dom.js";
import { answerKey, badge, markOf } from "../lib/marks.js";
import { get, post } from "../lib/service.js";
import { inMm, fixed, num, sig, t, tOr } from "../lib/texts.js";
import { tipRoom } from "../study/room.js";
import { adviceWords, fieldOf, fieldWords, reasonsOf, unitWords, isLeast } from "../study/words.js";
import { groundsPanel, secondTeeth } from "./grounds.js";

let last = "";

/** Show the ring of a joint, named robot/joint; nothing where there is none. */
export async function showRing(shown, name) {
  const ring = shown?.answer.rings.find((one) => `${one.robot}/${one.joint}` === name);
  if (!ring) {
    last = "";
    fill(
      byId("ring"),
      el("p", { class: "quiet" }, t(shown?.answer.rings.length ? "ring.choose" : "ring.none")),
    );
    return;
  }
  const now = `${answerKey(shown.answer)} ${name}`;
  if (now === last) return;
  last = now;
  const face = el("div", { class: "face" });
  const advice = el("div", { class: "advice" }, el("p", { class: "quiet" }, t("ring.looking")));
  const otherwise = groundsPanel(ring, shown);
  fill(
    byId("ring"),
    el(
      "h3",
      {},
      badge(markOf(shown.answer, ring.ring_part)),
      ` ${t("ring.title", { part: ring.ring_part, joint: ring.joint, robot: ring.robot })}`,
    ),
    el(
      "div",
      { class: "ringgrid" },
      el("div", {}, face, facts(ring, shown.answer)),
      el(
        "div",
        {},
        el("h4", {}, t("ring.why")),
        el(
          "ul",
          { class: "reasons" },
          reasonsOf(ring, shown.answer).map((text) => el("li", {}, text)),
        ),
        otherwise.node,
        budget(ring, shown.answer.basis),
      ),
      el("div", {}, el("h4", {}, t("ring.lower")), advice, margins(ring)),
    ),
  );
  const failed = (node) => (error) => {
    if (last === now) fill(node, el("p", { lang: "en" }, error.message));
  };
  await Promise.all([
    drawFace(face, ring, shown).catch(failed(face)),
    otherwise.tell().catch(failed(otherwise.node)),
    tellAdvice(advice, ring, shown).catch(failed(advice)),
  ]);
}

async function drawFace(node, ring, shown) {
  const shop = shown.study.shop ?? {};
  const query = new URLSearchParams({
    module_mm: ring.module_mm,
    teeth: ring.teeth,
    rack: shop.rack ?? "full",
    profile_shift: ring.profile_shift,
    chord_um: 5,
  });
  const depth = ring.tooth_depth_mm / ring.module_mm; // fine modules may be cut deeper than the rack
  if (query.get("rack") === "full" && depth > 2.2500001) query.set("depth_modules", depth.toFixed(9));
  const outline = await get(`/v1/outlines?${query}`);
  const joint =
    shown.study.robots
      .find((one) => one.name === ring.robot)
      ?.joints.find((one) => one.name === ring.joint) ?? {};
  const tips = tipRoom(shown.study, joint) ?? 0;
  const reach = Math.max(outline.tip_radius_mm, tips / 2) * 1.06;
  const path = `${outlinePath(outline, outline.teeth)}Z ${circle(ring.bore_mm / 2)}`;
  const mark = markOf(shown.answer, ring.ring_part);
  const around = (radius, name) =>
    radius ? svg("circle", { r: radius, class: name, "vector-effect": "non-scaling-stroke" }) : null;
  fill(
    node,
    svg(
      "svg",
      {
        viewBox: `${-reach} ${-reach} ${2 * reach} ${2 * reach}`,
        class: "whole",
        role: "img",
        "aria-label": t("ring.face", {
          teeth: ring.teeth,
          bore: sig(ring.bore_mm, 5),
          tip: sig(ring.tip_diameter_mm, 5),
        }),
      },
      around(tips / 2, "tip-limit"),
      around((inMm(joint.bore_min_mm) ?? 0) / 2, "bore-limit"),
      around((inMm(joint.bore_max_mm) ?? 0) / 2, "bore-limit"),
      svg("path", {
        d: path,
        class: `steel part-${mark}`,
        "fill-rule": "evenodd",
        "vector-effect": "non-scaling-stroke",
      }),
    ),
    near(outline, ring, mark),
  );
}

/** Three teeth, large, with the circles they are measured by. */
function near(outline, ring, mark) {
  const half = 1.6 * Math.PI * outline.module_mm;
  const [tip, root] = [outline.tip_radius_mm, outline.root_radius_mm];
  const low = Math.max(ring.bore_mm / 2, root - 0.7 * (tip - root));
  const high = tip + 0.35 * (tip - root);
  const turn = (x, y) => `${num6(-y)} ${num6(-x)}`; // a tooth stands at the top
  const points = [-2, -1, 0, 1, 2].flatMap((k) => turned(outline, k)).map(([x, y]) => turn(x, y));
  const arc = (r, name) => svg("circle", { r, class: name, "vector-effect": "non-scaling-stroke" });
  return svg(
    "svg",
    {
      viewBox: `${-half} ${-high} ${2 * half} ${high - low}`,
      class: "near",
      role: "img",
      "aria-label": t("ring.near", { depth: sig(ring.tooth_depth_mm, 4) }),
    },
    svg("path", {
      d: `M${points.join("L")}L${num6(3 * half)} 0L${num6(-3 * half)} 0Z`,
      class: `steel part-${mark}`,
      "vector-effect": "non-scaling-stroke",
    }),
    arc(outline.pitch_radius_mm, "pitch"),
    arc(root, "rootline"),
  );
}

const num6 = (value) => Number(value.toFixed(5));
const circle = (r) => `M${r} 0A${r} ${r} 0 1 0 ${-r} 0A${r} ${r} 0 1 0 ${r} 0Z`;

function turned(outline, k) {
  const angle = (2 * Math.PI * k) / outline.teeth;
  const [c, s] = [Math.cos(angle), Math.sin(angle)];
  return outline.x_mm.map((x, i) => [x * c - outline.y_mm[i] * s, x * s + outline.y_mm[i] * c]);
}

function outlinePath(outline, count) {
  const points = [];
  for (let k = 0; k < count; k += 1)
    for (const [x, y] of turned(outline, k)) points.push(`${x.toFixed(3)} ${y.toFixed(3)}`);
  return `M${points.join("L")}`;
}

/** What the electronics come to, as far as the study states what is needed for it. */
function electronics(ring, answer) {
  const { electronics: told } = ring;
  const robot = answer.electronics.find((one) => one.robot === ring.robot) ?? {};
  const rows = [
    ["ring.sampling", told.sample_rate_needed_hz, "Hz"],
    ["ring.lag", told.lag_arcsec, t("unit.arcsec")],
    ["ring.unpowered", told.unpowered_speed_max_rpm, "rpm"],
    ["ring.counter", told.counter_bits_needed, "bit"],
    ["ring.battery", robot.battery_life_years, t("unit.years")],
    ["ring.cycle", robot.cycle_us, "µs"],
  ]
    .filter(([, value]) => Number.isFinite(value))
    .map(([key, value, unit]) => [key, sig(value, 4), unit]);
  const second = told.second_ring;
  if (second) {
    const part = second.ring_part ? ` (${second.ring_part})` : "";
    rows.push([
      "ring.second",
      second.teeth === null ? "–" : `${num(second.teeth)}${part}`,
      t(second.feasible ? "ring.tells" : "ring.tellsNot"),
    ]);
    if (second.teeth !== null)
      rows.push([
        "ring.pair",
        t("ring.pairOf", {
          error: sig(second.relative_error_arcsec, 4),
          tolerance: sig(second.tolerance_arcsec, 4),
        }),
        t("unit.arcsec"),
      ]);
  }
  return rows;
}

function facts(ring, answer) {
  const pitch = answer.ring_parts.find((one) => one.id === ring.ring_part)?.pitch_name;
  const rows = [
    ["ring.module", num(ring.module_mm), pitch ? `mm (${pitch})` : "mm"],
    ["ring.teeth", num(ring.teeth), ""],
    ["ring.tip", sig(ring.tip_diameter_mm, 6), "mm"],
    ["ring.pitch", sig(ring.pitch_diameter_mm, 6), "mm"],
    ["ring.root", sig(ring.root_diameter_mm, 6), "mm"],
    ["ring.bore", sig(ring.bore_mm, 6), "mm"],
    ["ring.zone", `${sig(ring.bore_lower_um, 6)} / ${sig(ring.bore_upper_um, 6)}`, "µm"],
    ["ring.rim", fixed(ring.rim_mm, 3), "mm"],
    ["ring.width", num(ring.face_width_mm), "mm"],
    ["ring.cutter", ring.cutter ?? t("ring.wire"), ""],
    ...(ring.profile_error_um == null ? [] : [["ring.profile", sig(ring.profile_error_um, 3), "µm"]]),
    ["ring.heads", num(ring.heads), ""],
    ["ring.gap", num(ring.gap_mm), "mm"],
    ["ring.housing", sig(ring.housing_diameter_mm, 5), "mm"],
    ["ring.finished", sig(1e3 * ring.finished_kg, 4), "g"],
    ["ring.inertia", sig(1e6 * ring.inertia_kg_m2, 4), "kg mm²"],
    ["ring.repeats", `±${sig(ring.repeatability_arcsec, 3)}`, t("unit.arcsec")],
    ["ring.usable", sig(ring.usable_bits, 3), "bit"],
    ["ring.displayed", num(ring.displayed_bits), "bit"],
  ];
  const place = ["ring.place", t(`place.short.${ring.absolute_by}`), ""];
  const wide = [place, ...electronics(ring, answer)].map((row) => [...row, "wide"]);
  return el(
    "dl",
    { class: "facts" },
    [...rows, ...wide].map(([key, value, unit, name]) =>
      el("div", { class: name }, el("dt", {}, t(key)), el("dd", {}, value, unit ? `\u00a0${unit}` : "")),
    ),
  );
}

/** The error term by term, largest first; the three that matter are marked. */
function budget(ring, basis) {
  const terms = [...ring.budget.terms].sort((a, b) => b.standard_arcsec - a.standard_arcsec);
  const largest = terms[0].standard_arcsec || 1;
  const sum = terms.reduce((all, one) => all + one.standard_arcsec ** 2, 0) || 1;
  // the coverage factor of the study: told where it is not the usual one
  const k = ring.budget.combined_arcsec ? ring.budget.expanded_arcsec / ring.budget.combined_arcsec : 2;
  const other = Math.abs(k - 2) < 1e-9 ? "" : ".k";
  const bar = (term, index) =>
    el(
      "tr",
      { class: index < 3 ? "matters" : "" },
      el("th", { scope: "row" }, index < 3 ? "▸\u00a0" : "", t(`term.${term.name}`)),
      el(
        "td",
        { class: "length" },
        svg(
          "svg",
          { viewBox: "0 0 100 10", preserveAspectRatio: "none", "aria-hidden": "true" },
          svg("rect", { width: Math.max(0.4, (100 * term.standard_arcsec) / largest), height: 10 }),
        ),
      ),
      el("td", {}, sig(term.standard_arcsec, 3)),
      el("td", {}, `${num((100 * term.standard_arcsec ** 2) / sum, 0)} %`),
    );
  const head = [t("budget.term"), "", t("budget.standard"), t("budget.share")];
  const list = (some, offset) =>
    el(
      "tbody",
      {},
      some.map((term, index) => bar(term, index + offset)),
    );
  const rest = terms.slice(6);
  return el(
    "div",
    { class: "budget" },
    el("h4", {}, t("budget.title")),
    el(
      "table",
      {},
      el("caption", { class: "hidden" }, t("budget.title")),
      el(
        "thead",
        {},
        el(
          "tr",
          {},
          head.map((text) => el("th", { scope: "col" }, text)),
        ),
      ),
      list(terms.slice(0, 6), 0),
    ),
    el(
      "details",
      {},
      el("summary", {}, t("budget.rest", { count: rest.length })),
      el(
        "table",
        {},
        el("caption", { class: "hidden" }, t("budget.title")),
        el(
          "thead",
          { class: "hidden" },
          el(
            "tr",
            {},
            head.map((text) => el("th", { scope: "col" }, text)),
          ),
        ),
        list(rest, 6),
      ),
    ),
    el(
      "p",
      { class: "sum" },
      t(`budget.sum${other}`, {
        k: sig(k, 4),
        combined: sig(ring.budget.combined_arcsec, 4),
        expanded: sig(ring.budget.expanded_arcsec, 4),
        worst: sig(ring.budget.worst_case_arcsec, 4),
      }),
      " ",
      el(
        "strong",
        {},
        t(`budget.${basis}${basis === "expanded" ? other : ""}`, {
          k: sig(k, 4),
          error: sig(ring.error_arcsec, 4),
          target: sig(ring.target_arcsec, 4),
        }),
      ),
    ),
    el(
      "p",
      { class: "sum" },
      t("budget.repeats", {
        scatter: sig(ring.repeatability_arcsec, 4),
        terms: terms.filter((term) => !term.repeats).map((term) => t(`term.${term.name}`)).join(", "),
      }),
    ),
  );
}

async function tellAdvice(node, ring, shown) {
  const found = await post("/v1/advice", {
    study: shown.study,
    robot: ring.robot,
    joint: ring.joint,
    module_mm: ring.module_mm,
    teeth: ring.teeth,
    bore_mm: ring.bore_mm,
    heads: ring.heads,
    ...secondTeeth(ring),
  });
  const changes = found.changes.slice(0, 5);
  if (!changes.length) return fill(node, el("p", {}, t("advice.none")));
  const rows = changes.map((change) => [
    el(
      "span",
      {},
      adviceWords(change),
      change.within ? "" : el("small", { class: "breaks" }, ` ⚠ ${t("advice.breaks", { fields: change.breaks.map((limit) => fieldWords(fieldOf(limit))).join(", ") })}`),
    ),
    sig(change.error_arcsec, 3),
    `−${num(100 * (1 - change.error_arcsec / found.error_arcsec), 0)} %`,
  ]);
  return fill(
    node,
    table(
      t("advice.caption", { error: sig(found.error_arcsec, 4) }),
      [t("advice.change"), t("unit.arcsec"), ""],
      rows,
    ),
  );
}

/** A short unit stays with its number; a long one may go to the next line. */
const withUnit = (text, unit) => `${text}${unit.length > 5 ? " " : "\u00a0"}${unit}`;

function margins(ring) {
  const rows = [...ring.margins]
    .sort(
      (a, b) =>
        a.margin / Math.max(1e-9, Math.abs(a.allowed)) - b.margin / Math.max(1e-9, Math.abs(b.allowed)),
    )
    .map((margin) => [
      tOr(`margin.name.${fieldOf(margin.limit)}`, fieldWords(fieldOf(margin.limit))),
      sig(margin.value, 5),
      `${isLeast(margin) ? "≥" : "≤"} ${sig(margin.allowed, 5)}`,
      withUnit(sig(margin.margin, 3), unitWords(margin.unit)),
    ]);
  return el(
    "details",
    { class: "margins", open: true },
    el("summary", {}, t("margin.title")),
    table(
      t("margin.title"),
      [t("margin.limit"), t("margin.value"), t("margin.allowed"), t("margin.room")],
      rows,
    ),
  );
}
