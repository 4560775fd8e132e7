// The verdict on the study: how the search stands, what was found, and the totals.

import { button, byId, el, fill } from "../lib/dom.js";
import { fixed, num, sig, t, tOr } from "../lib/texts.js";

/**
 * Show how the search stands and what the answer that is shown comes to; `stands` tells whether that is of an
 * older study, whether it will stay so, the number of its point now (0 for none), and what the study lacks, in words.
 */
export function showAnswer(job, shown, stands, again) {
  const box = byId("verdict");
  const earlier = Boolean(stands.earlier && shown);
  box.dataset.state = job?.open ? "open" : earlier ? "earlier" : (shown?.answer.status ?? "none");
  const said = shown ? verdictWords(shown.study, shown.answer) : t("answer.none");
  const words = earlier ? t("answer.earlier", { words: said }) : said;
  fill(
    byId("verdict-words"),
    shown?.point
      ? `${stands.point ? t("answer.point", { number: stands.point }) : t("answer.pointEarlier")} ${words}`
      : words,
  );
  const held = byId("verdict-work").contains(document.activeElement);
  const stopped = held && document.activeElement.id === "stop";
  fill(byId("verdict-work"), work(job, stands, shown, again));
  // a button that goes away leaves the keyboard where it was, or at the verdict
  if (held) (stopped && byId("stop") ? byId("stop") : box).focus({ preventScroll: true });
  const told = shown && (shown.answer.status === "agreed" || !shown.answer.rings.length);
  const reasons = told ? shown.answer.reasons : [];
  fill(
    byId("reasons"),
    reasons.map((reason) => el("li", {}, reason)),
  );
  byId("reasons").hidden = !reasons.length;
  byId("verdict").classList.toggle("stale", Boolean(stands.old && shown));
  fill(
    byId("totals"),
    totals(shown?.answer).map(([value, unit, label, title]) =>
      el(
        "div",
        { title },
        el("dt", {}, label),
        el("dd", {}, value, unit ? el("small", {}, ` ${unit}`) : null),
      ),
    ),
  );
  const answer = shown?.answer;
  const places = [...placeWords(answer), ...takenBySeconds(answer), ...thereAlready(answer)];
  fill(
    byId("absolute"),
    places.map((text) => el("li", {}, text)),
  );
  byId("absolute").hidden = !places.length;
  fill(
    byId("warnings"),
    (shown?.answer.warnings ?? []).map((warning) => el("li", {}, warning)),
  );
  byId("warnings").hidden = !shown?.answer.warnings.length;
  fill(byId("proof"), proof(shown?.answer));
}

/** Return how an answer ended, in words; of a proven one the wishes in their order. */
export function verdictWords(study, answer) {
  const order = answer.proof.stages.map((stage) => t(`wish.${stage.wish}`)).join(", ");
  return t(`status.${answer.status}.said`, { order });
}

/** Return whether the joints find their place after a power loss, and by what: a sentence for those alike. */
function placeWords(answer) {
  const rings = answer?.rings ?? [];
  return [...new Set(rings.map(placeKey))].map((key) => {
    const mine = rings.filter((ring) => placeKey(ring) === key);
    const every = mine.length === rings.length && mine.length > 1;
    const names = mine.slice(0, 6).map((ring) => `${ring.robot}/${ring.joint}`);
    if (mine.length > 6) names.push("…");
    const rpm = Math.min(...mine.map((ring) => ring.electronics.unpowered_speed_max_rpm ?? Infinity));
    return t("place.loss", {
      joints: every ? t("place.every") : names.join(", "),
      words: t(key, { rpm: Number.isFinite(rpm) ? sig(rpm, 4) : "–" }),
    });
  });
}

/** Return what second rings take of heads, material and ring parts, over all robots built. */
function takenBySeconds(answer) {
  const seconds = answer?.second_rings ?? [];
  if (!seconds.length) return [];
  const built = Object.fromEntries(answer.tool_points.map((point) => [point.robot, point.count]));
  const firsts = new Set(answer.rings.map((ring) => ring.ring_part));
  const own = new Set(seconds.map((ring) => ring.ring_part).filter((part) => !firsts.has(part)));
  const heads = seconds.reduce((sum, ring) => sum + built[ring.robot], 0);
  const kg = seconds.reduce((sum, ring) => sum + built[ring.robot] * ring.blank_kg, 0);
  return [t("place.seconds", { heads, kg: sig(kg, 4), parts: own.size })];
}

/** Return which cutters and ring parts count, where some are there already. */
function thereAlready(answer) {
  const sum = answer?.totals;
  if (!sum?.counted) return [];
  const given = { cutters: sum.cutters_owned ?? 0, parts: sum.parts_in_production ?? 0 };
  return [t(sum.counted === "new" ? "totals.countedNew" : "totals.countedAll", given)];
}

/** Return the key of the words for one ring's joint after a power loss. */
export function placeKey(ring) {
  const turn = ring.absolute_by === "second_ring" && !ring.turns_known ? "_turn" : "";
  return `place.${ring.absolute_by}${turn}`;
}

function work(job, { old, gaps }, shown, again) {
  if (job?.open) {
    return [
      el("span", { class: "turning", "aria-hidden": "true" }),
      ` ${progressWords(job)} `,
      button(t("work.stop"), () => job.stop(), { id: "stop" }),
    ];
  }
  if (job?.state === "refused") return [t("work.refused")];
  if (job?.state === "failed")
    return [
      el("span", { class: "bad" }, `${job.problem?.title ?? ""}: `),
      el("span", { lang: "en" }, job.problem?.detail ?? ""),
    ];
  if (job?.state === "cancelled") return [`${t("work.stopped")} `, button(t("work.again"), again)];
  if (gaps) return [gaps];
  if (old && shown) return [`${t("work.stale")} `, button(t("work.solve"), again)];
  const seconds = (job?.took ?? 0) / 1000;
  return [
    shown
      ? seconds < 0.1
        ? t("work.quick")
        : t("work.done", { seconds: fixed(seconds, 1) })
      : t("work.ready"),
  ];
}

/** Return how far a search has come, in words. */
export function progressWords(job) {
  const { stage, best, bound, unit, gap_percent: gap } = job.progress ?? {};
  if (job.state === "queued") return t("work.queued");
  if (!stage) return t(job.find === "front" ? "work.front" : "work.running");
  const name = tOr(`wish.${stage}`, tOr(`stage.${stage}`, stage));
  if (best === undefined) return t("work.stage", { stage: name });
  return t(gap === undefined ? "work.best" : "work.bound", {
    stage: name,
    best: sig(best, 5),
    bound: sig(bound, 5),
    unit: unit ?? "",
    gap: sig(gap ?? 0, 2),
  });
}

function totals(answer) {
  const sum = answer?.totals;
  const point = answer?.tool_points
    .filter((one) => one.error_um > 0)
    .sort((a, b) => b.error_um / (b.target_um ?? Infinity) - a.error_um / (a.target_um ?? Infinity))[0];
  const rings = answer?.rings ?? [];
  const worst = [...rings].sort(
    (a, b) => b.error_arcsec / b.target_arcsec - a.error_arcsec / a.target_arcsec,
  )[0];
  return [
    [sum ? num(sum.cutters) : "–", "", t("wish.cutters")],
    [sum ? num(sum.ring_parts) : "–", "", t("wish.ring_parts")],
    [sum ? num(sum.heads) : "–", "", t("wish.heads")],
    [sum ? sig(sum.material_kg, 4) : "–", "kg", t("totals.blanks")],
    ...(sum?.cost ? [[num(sum.cost.total, 2), "", t("wish.cost")]] : []),
    [
      worst ? sig(worst.error_arcsec, 3) : "–",
      worst ? t("totals.of", { target: num(worst.target_arcsec), unit: "arcsec" }) : "arcsec",
      worst ? withLeft(answer, worst, t("totals.worstAt", { joint: worst.joint })) : t("totals.worst"),
    ],
    [
      point ? sig(point.error_um, 5) : "–",
      point?.target_um ? t("totals.of", { target: num(point.target_um), unit: "µm" }) : "µm",
      toolWords(answer, point),
    ],
    ...(answer?.robot_rings ?? []).flatMap(ringSums),
  ];
}

/** Return mass and inertia of a robot's rings where the study limits them. */
function ringSums(one) {
  const { robot } = one;
  const told = (value, most, unit, words) =>
    most === null ? [] : [[sig(value, 4), t("totals.of", { target: num(most), unit }), t(words, { robot })]];
  const square = (value) => (value === null ? null : 1e6 * value);
  return [
    ...told(one.rings_mass_kg, one.rings_mass_max_kg, "kg", "totals.ringsMass"),
    ...told(
      square(one.rings_inertia_kg_m2),
      square(one.rings_inertia_max_kg_m2),
      "kg mm²",
      "totals.ringsInertia",
    ),
  ];
}

/** Return what an error is of, what it leaves of its target, and the reserve where one is kept. */
function withLeft(answer, { target_left_percent: left }, of) {
  const reserve = num(answer.reserve_percent);
  return t(answer.reserve_percent ? "totals.kept" : "totals.left", { of, left: num(left, 1), reserve });
}

/** Return the words of a tool point with what is left of its target and how closely it repeats. */
function toolWords(answer, point) {
  if (!point) return t("totals.tool");
  const { repeatability_um: scatter, repeatability_target_um: target } = point;
  const tool = point.target_um ? withLeft(answer, point, t("totals.tool")) : t("totals.tool");
  const given = { tool, scatter: sig(scatter, 3) };
  return target ? t("totals.toolRepeatsOf", { ...given, target: num(target) }) : t("totals.toolRepeats", given);
}

function proof(answer) {
  if (!answer) return [];
  const { proof: told } = answer;
  return [
    el(
      "p",
      {},
      t("proof.rings", { rings: told.rings_possible, rows: told.rows_possible }),
      " ",
      t("proof.left", { count: told.rows_searched }),
    ),
    el(
      "ul",
      {},
      told.stages.map((stage) =>
        el(
          "li",
          {},
          stageWords(stage),
        ),
      ),
    ),
    el(
      "p",
      { class: "quiet" },
      t("proof.judged"),
      " ",
      Object.entries(told.versions)
        .map(([name, version]) => `${name} ${version}`)
        .join(", "),
      ` · ${answer.study_sha256.slice(0, 16)}`,
    ),
  ];
}

/** How an answer ends that is best: by a verified certificate, or only as the search engines agree. */
export const SETTLED = ["proven", "agreed"];

/** Return one wish of the proof in words: its least, and what is given up of it. */
function stageWords(stage) {
  const { given, weighed } = stage;
  const met = (given ? given.least : stage.value) === stage.bound && stage.confirmed_by !== "nothing";
  const settled =
    met &&
    (!weighed || weighed.value === weighed.bound) &&
    (!given || (given.bound === stage.value && given.confirmed_by !== "nothing"));
  const key = !settled ? "open" : given ? (given.allowed === null ? "rated" : "given") : weighed ? "weighed" : "proven";
  const words = t(`proof.${stage.agreed && key === "proven" ? "least" : key}`, {
    wish: t(`wish.${stage.wish}`),
    value: amount(stage, stage.value),
    bound: amount(stage, stage.bound),
    allowed: given && given.allowed !== null ? amount(stage, given.allowed) : "",
    how: t(`proof.${stage.confirmed_by.replaceAll(" ", "_")}`),
  });
  return stage.agreed ? `${words} ${t("proof.agreed")}` : words;
}

function amount(stage, value) {
  const size = Number.parseFloat(stage.unit);
  return Number.isFinite(size)
    ? `${sig(value * size, 7)}${stage.unit.endsWith("kg") ? " kg" : ""}`
    : num(value);
}
