// What can be taken away: the study, answers and fronts as JSON, drawings and tables.

import { button, byId, el, fill } from "../lib/dom.js";
import { Job } from "../lib/job.js";
import { answerKey } from "../lib/marks.js";
import { call, save } from "../lib/service.js";
import { num, t } from "../lib/texts.js";
import { lastComparison } from "../analysis/compare.js";

let job = null;
let madeFor = "";

const pretty = (value) => `${JSON.stringify(value, null, 2)}\n`;

/** Return a file name made of a title. */
export const stem = (title) =>
  String(title ?? "")
    .normalize("NFKD")
    .replace(/[^\w-]+/g, "_")
    .replace(/^_+|_+$/g, "")
    .slice(0, 40) || "ringset";

/** Show what can be taken away now. */
export function showFiles(study, shown, front) {
  const name = stem(study.title);
  const data = [
    ["files.study", () => save(`${name}.json`, pretty(study)), true],
    [
      "files.answer",
      () => saveResult(shown.id, "answer", `${name}.answer.json`, shown.answer),
      Boolean(shown),
    ],
    [
      "files.certificate",
      () => saveCertified(shown, `${name}.certified.json`),
      Boolean(shown?.answer.rings.length),
    ],
    [
      "files.joints",
      () => save(`${name}.joints.csv`, jointsCsv(shown.answer, shown.study), "text/csv"),
      Boolean(shown?.answer.rings.length),
    ],
    [
      "files.front",
      () => saveResult(front.id, "front", `${name}.front.json`, front.result),
      Boolean(front?.result),
    ],
    [
      "files.comparison",
      () => save(`${name}.comparison.json`, pretty(lastComparison())),
      Boolean(lastComparison()),
    ],
  ];
  const focus = document.activeElement?.dataset?.file;
  fill(
    byId("file-data"),
    data.map(([key, act, there]) => button(t(key), act, { disabled: !there, "data-file": key })),
  );
  if (focus) byId("file-data").querySelector(`[data-file="${focus}"]`)?.focus();
  byId("make-sheets").disabled = !shown?.answer.rings.length || Boolean(job?.open);
  if (shown && madeFor && madeFor !== answerKey(shown.answer) && !job?.open) {
    madeFor = "";
    fill(byId("sheets"), el("p", { class: "quiet" }, t("files.changed")));
  }
}

/** Save a result byte for byte as the service holds it, or as it is known here if it was forgotten there. */
async function saveResult(id, kind, name, known) {
  const response = await call(`/v1/studies/${id}/${kind}`).catch(() => null);
  save(name, response ? await response.arrayBuffer() : pretty(known));
}

/** Save the answer with its certificate, byte for byte: its whole numbers are too long for this language. */
async function saveCertified(shown, name) {
  const asked = new Job("certificate", shown.study, {}, () => {}, shown.previous);
  fill(byId("certified"), t("files.certifying"));
  await asked.run();
  fill(byId("certified"), asked.result ? "" : (asked.problem?.detail ?? t("files.stopped")));
  if (asked.result) save(name, await (await call(`/v1/studies/${asked.id}/certificate`)).arrayBuffer());
}

/** Kinds of files that hold no drawing, and so any letters. */
const UNDRAWN = ["report", "dxf", "tables", "inertial"];

/** Make drawings and tables of the answer that is shown. */
export async function makeSheets(shown, settled, only = []) {
  if (!shown) return;
  madeFor = answerKey(shown.answer);
  job = new Job("sheets", shown.study, only.length ? { only } : {}, () => {}, shown.previous);
  fill(
    byId("sheets"),
    el(
      "p",
      { class: "quiet" },
      t("files.making"),
      " ",
      button(t("work.stop"), () => job.stop()),
    ),
  );
  byId("make-sheets").disabled = true;
  await job.run();
  const made = job.result;
  if (made) list(made, job.id);
  else refused(job.problem, only.length ? null : () => makeSheets(shown, settled, UNDRAWN));
  settled();
}

/** Tell why no files were made; names that cannot be drawn leave those that bear no drawing. */
function refused(problem, others) {
  const faults = problem?.errors ?? [];
  fill(
    byId("sheets"),
    el("p", { lang: "en" }, problem?.detail ?? t("files.stopped")),
    el(
      "ul",
      { lang: "en" },
      faults.map((fault) => el("li", {}, `${fault.pointer}: ${fault.detail}`)),
    ),
    faults.length && others ? button(t("files.undrawn"), others) : null,
  );
}

function list(made, id) {
  const link = (name, words, type) =>
    el(
      "a",
      {
        href: `/v1/studies/${id}/sheets/${encodeURIComponent(name)}`,
        download: name,
        on: {
          click: (event) => {
            event.preventDefault();
            fetchFile(id, name, type);
          },
        },
      },
      words,
    );
  const kinds = Map.groupBy ? Map.groupBy(made.files, (file) => file.kind) : grouped(made.files);
  fill(
    byId("sheets"),
    made.files.length
      ? el("p", {}, link("all.zip", t("files.all", { count: made.files.length }), "application/zip"))
      : el("p", { lang: "en" }, made.reasons.join(" ")),
    [...kinds].map(([kind, files]) =>
      el(
        "section",
        { class: "kind" },
        el("h4", {}, t(`sheet.${kind}`)),
        el(
          "ul",
          { class: "filelist" },
          files.map((file) =>
            el(
              "li",
              {},
              link(file.name, file.name, file.media_type),
              el("small", {}, ` ${num(file.bytes / 1000, 1)} kB`),
            ),
          ),
        ),
      ),
    ),
    Object.entries(made.left_out).map(([kind, extra]) =>
      el("p", { class: "quiet" }, t("files.leftOut", { kind: t(`sheet.${kind}`), extra })),
    ),
    el("p", { class: "quiet" }, t("files.notReleased")),
  );
}

function grouped(files) {
  const kinds = new Map();
  for (const file of files) kinds.set(file.kind, [...(kinds.get(file.kind) ?? []), file]);
  return kinds;
}

async function fetchFile(id, name, type) {
  const response = await call(`/v1/studies/${id}/sheets/${encodeURIComponent(name)}`);
  save(name, await response.arrayBuffer(), type);
}

/** One line per joint in the study's order, numbers plain and unrounded; a text that a spreadsheet would run is disarmed. */
export function jointsCsv(answer, study) {
  const order = new Map(
    study.robots
      .flatMap((robot) => robot.joints.map((joint) => JSON.stringify([robot.name, joint.name])))
      .map((name, place) => [name, place]),
  );
  const place = (ring) => order.get(JSON.stringify([ring.robot, ring.joint])) ?? order.size;
  const rings = [...answer.rings].sort((a, b) => place(a) - place(b));
  const skip = ["budget", "margins", "electronics", "head_angles_deg", "second"];
  const names = Object.keys(answer.rings[0]).filter((name) => !skip.includes(name));
  const cell = (given) => {
    // twelve digits hold all there is, without the noise of binary fractions
    const value = typeof given === "number" ? Number(given.toPrecision(12)) : given;
    const text = typeof value === "string" && /^[=+\-@]/.test(value) ? `'${value}` : String(value ?? "");
    return /[",\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
  };
  return (
    [names, ...rings.map((ring) => names.map((name) => ring[name]))]
      .map((row) => row.map(cell).join(","))
      .join("\n") + "\n"
  );
}
