// What stands in the way of an impossible study, and buttons for what would free it.

import { button, byId, el, fill } from "../lib/dom.js";
import { num, t } from "../lib/texts.js";
import { current, keysOf, pointer, replace, withValue } from "../study/study.js";
import { changeWords, memberWords } from "../study/words.js";

/** Return the blockers by the joint they concern; those over several joints by each of them. */
export function blockedJoints(found) {
  const joints = new Map();
  for (const blocker of found?.blockers ?? []) {
    const names =
      blocker.joint !== null
        ? [blocker.joint]
        : blocker.members
            .filter((member) => member.path.includes("/") && !member.path.includes("."))
            .map((member) => member.path);
    for (const name of names) joints.set(name, [...(joints.get(name) ?? []), blocker]);
  }
  return joints;
}

/** Show blockers and reliefs; `job` is the question, which may still be open. */
export function showWhy(job, study) {
  const box = byId("why");
  box.hidden = !job;
  markCells(study, job?.result);
  if (!job) return;
  const found = job.result;
  if (!found) {
    fill(
      byId("why-said"),
      el("p", { class: "quiet" }, job.open ? t("why.looking") : (job.problem?.detail ?? t("why.stopped"))),
    );
    return;
  }
  const groups = new Map();
  for (const blocker of found.blockers) {
    const name = blocker.joint ?? t("why.together");
    groups.set(name, [...(groups.get(name) ?? []), blocker]);
  }
  const blockers = [...groups].map(([name, some]) =>
    el(
      "section",
      { class: "blocker" },
      el("h4", {}, name),
      el(
        "ul",
        {},
        some.map((one) =>
          el(
            "li",
            {},
            joined(one.members.map((member) => memberWords(study, member))),
            // what only the API words stays English
            one.members
              .filter((member) => member.note)
              .map((member) => el("small", { lang: "en" }, ` ${member.note}`)),
          ),
        ),
      ),
    ),
  );
  const ways = [...found.singles, ...found.fronts.flat(), ...(found.together ? [found.together] : [])].sort(
    (a, b) => a.asks - b.asks,
  );
  fill(
    byId("why-said"),
    el("p", {}, t("why.blockers", { count: found.blockers.length }), " ", t("why.meaning", { count: found.blockers.length })),
    el("div", { class: "blockers" }, blockers),
    found.complete ? null : el("p", { class: "quiet" }, t("why.more")),
    found.free_without_kept_parts === undefined
      ? null
      : el("p", {}, t(found.free_without_kept_parts ? "why.freeWithoutKept" : "why.boundWithoutKept")),
    el("h4", {}, t("why.reliefs")),
    ways.length ? el("p", { class: "quiet" }, t("why.verified")) : el("p", {}, t("why.noReliefs")),
    el(
      "ul",
      { class: "reliefs" },
      ways.map((way) =>
        el(
          "li",
          {},
          button(joined(way.changes.map((change) => changeWords(study, change))), () => apply(way), {
            class: "relief",
          }),
          el("small", {}, t("why.asks", { percent: num(100 * way.asks, 1) })),
        ),
      ),
    ),
  );
}

/** Mark the fields of the study that collide, where they stand. */
function markCells(study, found) {
  for (const node of document.querySelectorAll("#study .collides")) node.classList.remove("collides");
  for (const member of (found?.blockers ?? []).flatMap((blocker) => blocker.members)) {
    const keys = member.path.includes("/") ? null : keysOf(study, member.path);
    if (keys)
      document
        .querySelector(`#study [data-pointer="${CSS.escape(pointer(keys))}"]`)
        ?.classList.add("collides");
  }
}

const joined = (texts) => texts.join(" + ");

/** Apply a relief to the study; solving follows by itself. */
function apply(way) {
  let study = current();
  for (const change of way.changes) {
    const keys = keysOf(study, change.path);
    if (keys) study = withValue(study, keys, change.value);
  }
  replace(study);
  byId("verdict").focus(); // the button goes away with what it relieves
}
