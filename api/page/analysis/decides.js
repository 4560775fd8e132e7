// What decides an answer: the assumed inputs that change it most, and the band between hope and care.

import { byId, el, fill } from "../lib/dom.js";
import { has, num, sig, t } from "../lib/texts.js";
import { choice, fieldsAt } from "../study/fields.js";
import { addsWords, fieldOf, fieldWords, unitWords } from "../study/words.js";

const SHOWN = 5; // inputs told at once; the others follow on request

/**
 * Show what decides the answer; `ranked` and `band` are the questions, null where they were not asked. The place
 * stays where there is an answer, so that nothing below it jumps; `possible` says whether they can be asked now.
 */
export function showDecides(ranked, band, answered, possible) {
  byId("decides").hidden = !answered && !ranked && !band;
  byId("decides-go").disabled = !possible || Boolean(ranked?.open);
  byId("band-go").disabled = !possible || Boolean(band?.open);
  fill(byId("decides-said"), said(ranked, ranking));
  fill(byId("band-said"), said(band, bandWords));
}

function said(job, words) {
  if (!job) return [];
  if (job.result) return words(job.result);
  return el("p", { class: "quiet" }, job.open ? t("decides.running") : (job.problem?.detail ?? t("why.stopped")));
}

function ranking(found) {
  const telling = found.inputs.filter((one) => one.solved && tells(one, found.answer));
  const lines = telling.map((one) => el("li", {}, inputWords(one, found.answer)));
  const open = found.open.map(pathWords).join(", ");
  return [
    lines.length ? el("ol", {}, lines.slice(0, SHOWN)) : el("p", {}, t("decides.none")),
    lines.length > SHOWN
      ? el("details", { class: "group" }, el("summary", {}, t("decides.more")), el("ol", { start: SHOWN + 1 }, lines.slice(SHOWN)))
      : [],
    open ? el("p", { class: "quiet" }, t("decides.open", { inputs: open })) : [],
  ].flat();
}

const ends = (one) => [one.at_low, one.at_high];

function tells(one, base) {
  return ends(one).some(
    ({ figures, change }) =>
      figures && (figures.status !== base.status || Object.values(change).some((more) => Math.abs(more) > 1e-6)),
  );
}

/** Return one input with what both of its ends do, in one sentence. */
function inputWords(one, base) {
  const given = { field: pathWords(one.path), given: valueWords(one.path, one.given) };
  const words = ends(one)
    .filter((end) => JSON.stringify(end.value) !== JSON.stringify(one.given))
    .map((end) => t("decides.at", { value: valueWords(one.path, end.value), words: endWords(end, base) }));
  return t("decides.line", { ...given, words: words.join("; ") });
}

function endWords({ figures, change }, base) {
  if (!figures || figures.status === "undecided") return t("decides.unsolved");
  if (figures.status === "impossible") return t("decides.impossible");
  if (base.cutters === null) return t("decides.possible");
  const adds = { ...change, money: change.cost ?? 0 };
  const counts = ["cutters", "ring_parts", "heads"].some((name) => adds[name]);
  if (counts || Math.abs(adds.material_kg) >= 5e-7 || Math.abs(adds.money) >= 5e-3) return addsWords(adds);
  return t("decides.margin", { percent: sig(100 * figures.margin, 2) });
}

function bandWords(band) {
  const line = (name, answer) =>
    el(
      "li",
      {},
      answer.totals
        ? t("decides.totals", {
            end: t(`decides.${name}`),
            cutters: num(answer.totals.cutters),
            parts: num(answer.totals.ring_parts),
            heads: num(answer.totals.heads),
            kg: sig(answer.totals.material_kg, 4),
          })
        : `${t(`decides.${name}`)}: ${t(answer.status === "impossible" ? "decides.impossible" : "decides.unsolved")}`,
    );
  const causes = band.causes.map(pathWords).join(", ");
  return [
    el("ul", {}, line("hopeful", band.hopeful), line("stated", band.stated), line("careful", band.careful)),
    causes ? el("p", {}, t("decides.causes", { inputs: causes })) : [],
  ].flat();
}

/** Return an input by its field's words, with the name of its head or joint where it has one. */
function pathWords(path) {
  const name = fieldOf(path);
  const owner = /^(?:heads|joints|robots)\.("[^"]*"|[^.]+)\./.exec(path)?.[1] ?? "";
  const key = path.startsWith("shop.prices.") ? `prices.${name}` : name;
  return `${owner ? `${owner}: ` : ""}${has(`field.${key}`) ? fieldWords(key) : path}`;
}

function valueWords(path, value) {
  const unit = unitWords(factOf(path)?.unit ?? "");
  const one = (part) => (typeof part === "number" ? num(part) : typeof part === "string" ? choice(part) : String(part));
  return `${[value].flat().map(one).join(", ")}${unit ? ` ${unit}` : ""}`;
}

function factOf(path) {
  const places = ["robots[].joints[].", "robots[].", "robots[].battery.", "robots[].line."];
  const own = path.startsWith("head") ? ["head. or heads.NAME."] : [`${path.slice(0, path.lastIndexOf(".") + 1)}`];
  const among = /^(joints|robots)/.test(path) ? places : own;
  return among.flatMap((place) => fieldsAt(place)).find((fact) => fact.name === fieldOf(path));
}
