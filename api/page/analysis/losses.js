// What it costs to lose a cutter, a head, a ring part or a stock size of the answer: plain lines.

import { byId, el, fill } from "../lib/dom.js";
import { num, t } from "../lib/texts.js";
import { changesWords } from "../study/words.js";

/**
 * Show what losses cost; `job` is the question, null where it was not asked. The place stays where there is an
 * answer with rings, so that nothing below it jumps; `possible` says whether it can be asked now.
 */
export function showLosses(job, answered, possible) {
  byId("losses").hidden = !answered && !job;
  byId("losses-go").disabled = !possible || Boolean(job?.open);
  fill(byId("losses-said"), job ? said(job) : []);
}

function said(job) {
  const found = job.result;
  if (!found)
    return el("p", { class: "quiet" }, job.open ? t("losses.running") : (job.problem?.detail ?? t("why.stopped")));
  return [
    el("ul", {}, found.losses.map((loss) => el("li", {}, lossLine(loss)))),
    found.open.length
      ? [
          el("p", { class: "quiet" }, t("losses.open")),
          el("ul", { lang: "en" }, found.open.map((text) => el("li", {}, text))),
        ]
      : [],
  ].flat();
}

/** Return a loss as a line of words; what only the API words stays English. */
function lossLine(loss) {
  const sure = { agreed: "steps.agreed", found: "steps.unproven" }[loss.status] ?? "steps.line";
  const joints = loss.joints.join(", ");
  const more = t("losses.of", { thing: thingWords(loss), joints });
  return [t(sure, { more, change: changeWords(loss) }), details(loss)].flat();
}

function thingWords({ kind, name }) {
  if (kind === "head")
    return name === "head" ? t("losses.shared_head") : t("losses.head", { name: name.slice("heads.".length) });
  const size = name.split(" x ").map((number) => num(Number(number))).join(" × ");
  return t(`losses.${kind.replace(" ", "_")}`, { name: ["cutter", "ring part"].includes(kind) ? name : size });
}

function changeWords(loss) {
  if (loss.kind === "head") return t("losses.unread");
  if (loss.status === "impossible") return t("losses.impossible");
  if (loss.status === "undecided") return t("losses.unknown");
  if (loss.stays) {
    const more = loss.blanks.reduce((sum, blank) => sum + blank.bought_more_kg, 0);
    return t("losses.stays", { grams: num(1000 * more, 1) });
  }
  if (loss.values.every(({ difference, before }) => Math.abs(difference) <= 1e-9 * before)) return t("losses.same");
  return changesWords(loss.values);
}

function details(loss) {
  const texts = loss.stays
    ? loss.blanks.map((blank) => `${blank.ring_part}: ${blank.after}`)
    : loss.kind !== "head" && loss.status === "impossible"
      ? loss.reasons
      : [];
  return texts.length ? [el("small", { lang: "en" }, ` ${texts.join("; ")}`)] : [];
}
