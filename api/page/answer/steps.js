// What one step more of every wish would buy: plain lines below the totals.

import { byId, el, fill } from "../lib/dom.js";
import { num, t } from "../lib/texts.js";
import { changesWords } from "../study/words.js";

const COUNTED = ["cutters", "ring_parts", "heads"];

/** Show the steps of the answer that is shown; `job` asks for them, null where nothing is asked. */
export function showSteps(job, old) {
  const found = job?.result;
  const lines = (found?.steps ?? []).map((step) => el("li", {}, stepLine(step)));
  const open = (found?.open ?? []).map((text) => el("li", { lang: "en" }, text));
  byId("steps").classList.toggle("stale", Boolean(old));
  fill(
    byId("steps"),
    el("p", { class: "quiet" }, t(found?.steps.length ? "steps.title" : job?.open ? "steps.running" : "steps.none")),
    el("ul", {}, lines, open),
  );
}

/** Return what a step buys, in words of the catalogue. */
function stepLine(step) {
  const more = COUNTED.includes(step.wish)
    ? t(`step.${step.wish}.more`, { count: step.allowed })
    : t("steps.percent", { wish: t(`wish.${step.wish}`), percent: num(step.allowed) });
  const change = step.gains ? changesWords(step.values.slice(1)) : t("steps.nothing");
  return t(step.proven ? "steps.line" : step.settled ? "steps.agreed" : "steps.unproven", { more, change });
}
