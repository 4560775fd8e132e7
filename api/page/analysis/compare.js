// Answers kept aside, and two or more of them side by side.

import { button, byId, el, fill, table } from "../lib/dom.js";
import { post } from "../lib/service.js";
import { fixed, num, sig, t, tOr } from "../lib/texts.js";
import { fieldWords } from "../study/words.js";

const kept = [];
const MOST = 10;
/** What may differ while the ring and its heads are the same. */
const SETTINGS = [
  "profile_error_um",
  "gap_mm",
  "head_angles_deg",
  "target_arcsec",
  "repeatability_target_arcsec",
  "second_teeth",
  "absolute_by",
  "expanded_arcsec",
  "worst_case_arcsec",
  "repeatability_expanded_arcsec",
  "repeatability_worst_case_arcsec",
];
let comparison = null;
let told = () => {};

/** Have `listener` called whenever there is another comparison. */
export const onComparison = (listener) => {
  told = listener;
};

export const lastComparison = () => comparison;

/** Keep an answer under a name; `number` is that of its point of the front, 0 where it has none that stays. */
export function keep(shown, number) {
  if (!shown || kept.some((one) => one.id === shown.id)) return;
  if (kept.length === MOST) kept.shift();
  const taken = kept.map((one) => one.name);
  const whole = (shown.answer.title || t("compare.untitled")).slice(0, 60);
  const pointed = number ? t("compare.point", { title: whole, number }) : t("compare.somePoint", { title: whole });
  const title = shown.point ? pointed : whole;
  let name = title;
  for (let again = 2; taken.includes(name); again += 1) name = `${title} (${again})`;
  kept.push({ ...shown, name });
  showKept();
}

/** Show what is kept, and compare as soon as there are two. */
export function showKept() {
  fill(
    byId("kept"),
    kept.map((one, index) =>
      el(
        "li",
        {},
        el(
          "span",
          {},
          one.name,
          " ",
          el(
            "small",
            {},
            one.answer.totals
              ? t("compare.short", {
                  cutters: one.answer.totals.cutters,
                  parts: one.answer.totals.ring_parts,
                  kg: sig(one.answer.totals.material_kg, 4),
                })
              : t(`status.${one.answer.status}`),
          ),
        ),
        button(
          "×",
          () => {
            kept.splice(index, 1);
            showKept();
          },
          { class: "icon", "aria-label": t("compare.remove", { name: one.name }) },
        ),
      ),
    ),
  );
  comparison = null;
  told();
  if (kept.length < 2)
    fill(
      byId("comparison"),
      el("p", { class: "quiet" }, t(kept.length ? "compare.oneMore" : "compare.none")),
    );
  else ask();
}

async function ask() {
  const asked = kept.map((one) => ({ name: one.name, study_id: one.id }));
  try {
    let found;
    try {
      found = await post("/v1/comparisons", { entries: asked });
    } catch (error) {
      if (error.code !== "not-found") throw error;
      // the service has forgotten one of them: the answers themselves will do
      found = await post("/v1/comparisons", {
        entries: kept.map((one) => ({ name: one.name, answer: one.answer })),
      });
    }
    if (asked.length !== kept.length) return;
    comparison = found;
    show(found);
    told();
  } catch (error) {
    fill(byId("comparison"), el("p", { class: "bad", lang: "en" }, error.message));
  }
}

function show(found) {
  const names = found.answers.map((one) => one.name);
  fill(
    byId("comparison"),
    found.notes.length
      ? el(
          "div",
          { class: "notes" },
          el("h4", {}, t("compare.notes")),
          el(
            "ul",
            { lang: "en" },
            found.notes.map((note) => el("li", {}, note)),
          ),
        )
      : null,
    wide(totals(found, names)),
    found.inputs.length
      ? wide(
          table(
            t("compare.inputs"),
            [t("compare.input"), ...names],
            found.inputs.map((one) => [one.path, ...one.values.map((value) => value ?? "–")]),
          ),
        )
      : null,
    found.joints.length ? wide(rings(found, names)) : null,
    el("h4", {}, t("compare.short.title")),
    el(
      "ul",
      { lang: "en" },
      found.changes.map((change) => el("li", {}, `${change.name}: ${change.summary}`)),
    ),
  );
}

const wide = (node) =>
  el("div", { class: "scroll", tabIndex: 0, role: "region", "aria-label": node.caption.textContent }, node);

function totals(found, names) {
  const reference = found.reference ?? 0;
  const rows = found.totals.map((total) => {
    const words =
      total.name === "tool_point_um"
        ? t("front.tool", { robot: total.robot })
        : t(`total.${total.name}`, { robot: total.robot });
    const cell = (value, index) => {
      if (value === null) return "–";
      const change = total.differences[index];
      const text = Number.isInteger(value) ? num(value) : sig(value, 5);
      return el(
        "span",
        {},
        text,
        index !== reference && change
          ? el("small", { class: "change" }, ` ${change > 0 ? "+" : "−"}${sig(Math.abs(change), 3)}`)
          : null,
      );
    };
    return [
      `${words}${total.basis ? ` (${tOr(`choice.${total.basis}`, total.basis)})` : ""}`,
      ...total.values.map(cell),
    ];
  });
  const status = [t("total.status"), ...found.answers.map((one) => t(`status.${one.status}`))];
  return table(t("compare.totals"), ["", ...names], [status, ...rows]);
}

function rings(found, names) {
  const text = (ring) => {
    if (!ring) return "–";
    const line = t("compare.ring", {
      part: ring.ring_part,
      module: num(ring.module_mm),
      teeth: num(ring.teeth),
      bore: sig(ring.bore_mm, 5),
      rim: fixed(ring.rim_mm, 2),
      heads: num(ring.heads),
      error: sig(ring.expanded_arcsec, 3),
    });
    const words = (fields) => fields.map((name) => tOr(`compare.differs.${name}`, fieldWords(name))).join(", ");
    const other = ring.differs.filter((name) => !SETTINGS.includes(name));
    if (other.length) return el("span", {}, el("strong", { title: words(other) }, "≠ "), line);
    // the same ring: what differs is told, and is no mark of another ring
    return ring.differs.length
      ? el("span", {}, line, el("small", {}, ` (${t("compare.sameRing", { fields: words(ring.differs) })})`))
      : line;
  };
  return table(
    t("compare.rings"),
    [t("compare.joint"), ...names],
    found.joints.map((joint) => [`${joint.robot}/${joint.joint}`, ...joint.rings.map(text)]),
  );
}
