// Why a ring is not otherwise: the rings beside it, each with what it would break or cost.

import { el, fill } from "../lib/dom.js";
import { post } from "../lib/service.js";
import { has, num, sig, t } from "../lib/texts.js";
import { addsWords, fieldOf, fieldWords, unitWords } from "../study/words.js";
import { SETTLED } from "./answer.js";

/** What is told, in its order; the second of a pair only where it says something else than the first. */
const LINES = [["larger", "largest"], ["smaller"], ["thinner", "thinnest"], ["fewer_heads"], ["more_heads"], ["part"]];

/** Return the panel of a ring with a place for every line, and what fills it. */
export function groundsPanel(ring, shown) {
  const lines = expected(ring, shown);
  const list = el(
    "ul",
    { class: "grounds" },
    lines.map((name) => el("li", {}, el("strong", {}, `${t(`grounds.not.${name}`)}: `), "…")),
  );
  list.style.setProperty("--lines", lines.length);
  const shared = lines.includes("own_part") ? ` ${t("grounds.shared")}` : "";
  const node = el(
    "section",
    { class: "otherwise", "aria-busy": "true" },
    el("h4", {}, t("grounds.title")),
    list,
    el("p", { class: "quiet" }, t("grounds.rated"), shared),
  );
  return { node, tell: () => tell(node, list, ring, shown) };
}

/** Return the lines that will come, so that they have their places before they do. */
function expected(ring, { answer, study }) {
  const joint = study.robots.find((one) => one.name === ring.robot)?.joints.find((one) => one.name === ring.joint);
  const counts = joint?.head_counts ?? [1, 2];
  const users = answer.ring_parts.find((one) => one.id === ring.ring_part)?.used_on ?? [];
  return [
    "larger",
    "smaller",
    "thinner",
    ...(ring.heads > 1 ? ["fewer_heads"] : []),
    ...(counts.some((count) => count > ring.heads) ? ["more_heads"] : []),
    ...(users.length > 1 ? ["own_part"] : answer.ring_parts.length > 1 ? ["other_part"] : []),
  ];
}

/** Return the teeth of a ring's second one as calls state them, nothing where it has none. */
export function secondTeeth(ring) {
  const teeth = ring.electronics.second_ring?.teeth;
  return teeth ? { second_teeth: teeth } : {};
}

async function tell(node, list, ring, { answer, study }) {
  const names = ["robot", "joint", "module_mm", "teeth", "bore_mm", "heads", "ring_part"];
  const { material_unit_kg, cost_unit } = answer.proof;
  const found = await post("/v1/grounds", {
    study,
    robot: ring.robot,
    joint: ring.joint,
    rings: answer.rings.map((one) => ({
      ...Object.fromEntries(names.map((name) => [name, one[name]])),
      ...secondTeeth(one),
    })),
    material_unit_kg,
    ...(cost_unit ? { cost_unit } : {}),
  });
  const lines = linesOf(found.grounds).map((some) => line(some, ring, answer));
  node.removeAttribute("aria-busy");
  fill(list, lines.length ? lines : el("li", {}, t("advice.none")));
}

/** Return the grounds to tell, line by line: of those that break the same limit the nearest. */
function linesOf(grounds) {
  const first = (kind) => grounds.find((one) => one.kind === kind);
  const others = grounds.filter((one) => one.kind === "other_part");
  const part = first("own_part") ?? others.find((one) => !one.breaks.length) ?? others.sort(nearer)[0];
  const lines = LINES.map((kinds) => kinds.map((kind) => (kind === "part" ? part : first(kind))).filter(Boolean));
  for (const some of lines) if (some.length > 1 && some[0].breaks[0]?.limit === some[1].breaks[0]?.limit && some[0].breaks.length) some.pop();
  // a thicker rim is heavier, which nobody asks about; but nothing as good is kept back
  const unlike = grounds.filter((one) => one.kind === "thicker" && /good|better/.test(one.outcome));
  return [...lines, unlike].filter((some) => some.length);
}

const strain = ({ value, allowed }) => Math.max(value / allowed, allowed / value) || Infinity;
const nearer = (a, b) =>
  Math.max(...a.breaks.map(strain)) - Math.max(...b.breaks.map(strain));

function line(some, ring, answer) {
  const open = some.some((one) => one.outcome === "as good" || one.outcome === "better");
  const lead = t(open ? "grounds.also" : `grounds.not.${some[0].kind}`);
  const text = some.map((one) => `${triedWords(one)}: ${outcomeWords(one, ring, answer)}`).join("; ");
  return el("li", { class: open ? "open" : "" }, el("strong", {}, `${lead}: `), `${text}.`);
}

function triedWords(one) {
  const given = {
    teeth: num(one.teeth),
    bore: sig(one.bore_mm, 6),
    rim: sig(one.rim_mm, 3),
    part: one.ring_part ?? "",
  };
  const counts = one.kind.endsWith("_heads") || one.kind === "other_part";
  return t(`grounds.tried.${one.kind}`, counts ? { ...given, count: one.heads } : given);
}

function outcomeWords(one, ring, answer) {
  if (one.breaks.length) return breaksWords(one.breaks, ring);
  const adds = addsWords(one.adds);
  if (one.outcome === "as good") return t("grounds.asGood");
  if (one.outcome === "better")
    return t(SETTLED.includes(answer.status) ? "grounds.contradicts" : "grounds.better", { words: adds });
  return adds;
}

/** Return the limits in the way: the first, and on whose joint unless it is the ring's own. */
function breaksWords(breaks, ring) {
  const [first] = breaks;
  const rest = new Set(breaks.slice(1).map((one) => one.limit));
  rest.delete(first.limit);
  const more = [...rest].map((limit) => fieldWords(fieldOf(limit)));
  const text = brokenWords(first, ring);
  return more.length ? t("grounds.andMore", { text, fields: more.join(", ") }) : text;
}

/** Return a broken limit in words. */
export function brokenWords(one, ring) {
  const name = fieldOf(one.limit);
  const elsewhere = one.robot === ring.robot ? one.joint : [one.robot, one.joint].filter(Boolean).join("/");
  const mine = one.robot === ring.robot && (one.joint === ring.joint || one.joint === null);
  const given = {
    field: fieldWords(name),
    value: sig(one.value, 4),
    allowed: sig(one.allowed, 4),
    unit: unitWords(one.unit),
    bound: t(one.value > one.allowed ? "margin.most" : "margin.least", { value: sig(one.allowed, 4) }),
  };
  // four digits may hide what is broken
  if (given.value === given.allowed) given.value = sig(one.value, 7);
  const text = t(has(`grounds.limit.${name}`) ? `grounds.limit.${name}` : "grounds.limit.else", given).trim();
  return mine || !elsewhere ? text : t("grounds.at", { joint: elsewhere, text });
}
