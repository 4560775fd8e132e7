// The page: what happens when the study changes, and how its parts hang together.

import { byId, el, fill } from "./lib/dom.js";
import { Job } from "./lib/job.js";
import { hatches } from "./lib/marks.js";
import { connection, get, giveKey, save } from "./lib/service.js";
import { chooseLanguage, loadTexts, t } from "./lib/texts.js";
import { clearErrors, showErrors } from "./study/errors.js";
import { loadFields } from "./study/fields.js";
import { addRobot, showForm, takeWhole } from "./study/form.js";
import { complete, gapWords, markGaps } from "./study/gaps.js";
import { forgetPrevious, previous, showPrevious, takePrevious } from "./study/previous.js";
import {
  EMPTY,
  canRedo,
  canUndo,
  current,
  isStudy,
  joints,
  onChange,
  redo,
  replace,
  set,
  undo,
} from "./study/study.js";
import { keep, onComparison, showKept } from "./analysis/compare.js";
import { showDecides } from "./analysis/decides.js";
import { ACROSS, Front } from "./analysis/front.js";
import { showLosses } from "./analysis/losses.js";
import { blockedJoints, showWhy } from "./analysis/why.js";
import { SETTLED, progressWords, showAnswer, verdictWords } from "./answer/answer.js";
import { makeSheets, showFiles, stem } from "./answer/files.js";
import { showRing } from "./answer/ring.js";
import { showRobots, watchRoom } from "./answer/robot.js";
import { showSteps } from "./answer/steps.js";

const WAIT_MS = 150; // after a change, for the next one
const BY_ITSELF = 30; // joints up to which a change is solved at once
const state = { chosen: "", timer: 0, job: null, shown: null, why: null, ranked: null, band: null, losses: null, steps: null, front: null };
const stale = () => Boolean(state.shown) && state.shown.given !== JSON.stringify(current());
const front = new Front(
  (study, point) => solve(study, point),
  (keys, value) => {
    set(keys, value);
    askFront();
  },
);

function draw() {
  const study = current();
  const old = stale() && !state.shown?.point;
  const ready = complete(study);
  // what the page asks by itself is about to be answered; anything else stays as old as it is
  const asked = ready && byItself(study) && state.job?.state !== "refused";
  const earlier = old && !state.job?.open && !asked;
  const point = front.numberOf(state.shown?.point);
  const stands = { old, earlier, point, gaps: ready ? "" : gapWords(study) };
  showAnswer(state.job, state.shown, stands, () => solve(current()));
  showSteps(state.shown?.point ? null : state.steps, old);
  markGaps(study, byId("by-itself").checked && !ready);
  showRobots(study, state.shown, state.chosen, old, choose, blockedJoints(state.why?.result));
  showRing(state.shown, state.chosen);
  showWhy(state.why, state.why?.study ?? study);
  showDecides(state.ranked, state.band, Boolean(state.shown), ready && Boolean(state.shown) && !old);
  const ringed = Boolean(state.shown?.answer.rings.length);
  const own = ringed && !state.shown.point; // of a point of the front nothing is lost
  showLosses(own ? state.losses : null, ringed, ready && own && !old);
  byId("reasons").hidden ||= Boolean(state.why?.result?.blockers.length);
  showFiles(study, state.shown, state.front);
  showPrevious(state.shown, () => nameBy(forgetPrevious));
  byId("keep").disabled = !state.shown;
  byId("undo").disabled = !canUndo();
  byId("redo").disabled = !canRedo();
}

const byItself = (study) => byId("by-itself").checked && joints(study).length <= BY_ITSELF;

function drawFront() {
  offerCost(current());
  const job = state.front;
  const old = Boolean(job) && JSON.stringify(job.study) !== JSON.stringify(current());
  front.show(job, current(), old);
  if (state.shown?.point) draw(); // its number may be another now
  byId("front-go").disabled = Boolean(job?.open);
  byId("front-stop").disabled = !job?.open;
  const count = front.points.length;
  fill(
    byId("front-said"),
    job?.open
      ? `${t("front.running", { count })} ${job.progress ? progressWords(job) : ""}`
      : !job
        ? t("front.ask")
        : job.state === "cancelled"
          ? t("front.stopped", { count })
          : job.state !== "done"
            ? `${job.problem?.title ?? ""} ${job.problem?.errors?.[0]?.detail ?? job.problem?.detail ?? ""}`
            : t(job.result.complete ? "front.complete" : "front.open", { count }) +
              (old ? ` ${t("work.stale")}` : ""),
  );
}

function choose(name) {
  state.chosen = name;
  draw();
  const blocked = blockedJoints(state.why?.result).size > 0 && !state.shown?.answer.rings.length;
  byId(blocked ? "why" : "ring").scrollIntoView({ block: "nearest", behavior: "smooth" });
}

/** Ask for the answer of a study: the one being stated, or that of a point of the front. */
async function solve(study, point = null) {
  clearTimeout(state.timer);
  state.job?.drop();
  if (!point) dropWhy();
  const given = JSON.stringify(current());
  const job = new Job("answer", study, {}, draw, previous());
  state.job = job;
  draw();
  await job.run();
  if (state.job !== job) return;
  job.took = performance.now() - job.began;
  if (job.state === "refused") showErrors(job.problem);
  else clearErrors();
  if (job.result) {
    state.shown = { study, answer: job.result, id: job.id, given, point, previous: job.previous };
    const names = job.result.rings.map((ring) => `${ring.robot}/${ring.joint}`);
    if (!names.includes(state.chosen)) state.chosen = firstJoint(study, names);
    if (job.result.status === "impossible" && !point) askWhy(study);
    askSteps(SETTLED.includes(job.result.status) && !point ? study : null);
  }
  draw();
  say(job.result ? verdictWords(study, job.result) : "");
}

/** Ask what one step more of each wish would buy; of nothing where the answer is no starting point. */
async function askSteps(study) {
  state.steps?.drop();
  const job = study ? new Job("steps", study, {}, draw) : null;
  state.steps = job;
  await job?.run();
  if (job && state.steps === job) draw();
}

/** Open the ring that uses most of its target first. */
function firstJoint(study, names) {
  const found = joints(study).map(({ robot, joint }) => `${robot.name}/${joint.name}`);
  return found.find((name) => names.includes(name)) ?? "";
}

async function askWhy(study) {
  const job = new Job("blockers", study, {}, draw);
  state.why = job;
  await job.run();
  if (state.why === job) draw();
}

function dropWhy() {
  for (const name of ["why", "ranked", "band", "losses"]) {
    state[name]?.drop();
    state[name] = null;
  }
}

/** Ask which assumed inputs decide the answer, for the band between their ends, or what losses cost. */
async function askOf(name, find) {
  state[name]?.drop();
  const job = new Job(find, current(), {}, draw);
  state[name] = job;
  draw();
  await job.run();
  if (state[name] === job) draw();
}

async function askFront() {
  state.front?.drop();
  const study = current();
  const over = [...document.querySelectorAll("#front-over input:checked")].map((box) => box.value);
  const targets = byId("front-targets")
    .value.split(/[;\s]+/)
    .filter(Boolean)
    .map((text) => text.replace(",", "."));
  const own = study.target?.angle_target_arcsec;
  const step = offerStep();
  const job = new Job(
    "front",
    study,
    { over, ...(step ? { step } : {}), ...(targets.length ? { targets_arcsec: [own, ...targets] } : {}) },
    drawFront,
  );
  state.front = job;
  drawFront();
  await job.run();
  if (state.front !== job) return;
  if (job.state === "refused" && job.problem.errors?.some((fault) => fault.pointer)) showErrors(job.problem);
  drawFront();
  draw();
}

function changed() {
  showForm();
  byId("title").value =
    document.activeElement === byId("title") ? byId("title").value : String(current().title ?? "");
  clearTimeout(state.timer);
  const study = current();
  if (state.job?.state === "refused") {
    clearErrors();
    state.job = null; // its faults were those of another state of the study
  }
  const asked = state.why ?? state.ranked ?? state.band ?? state.losses;
  if (asked && JSON.stringify(asked.study) !== JSON.stringify(study)) dropWhy();
  if (complete(study) && byItself(study)) {
    if (
      !state.shown ||
      state.shown.given !== JSON.stringify(study) ||
      state.shown.point ||
      state.job?.state !== "done"
    )
      state.timer = setTimeout(() => solve(current()), WAIT_MS);
  } else if (state.job?.open) {
    state.job.drop();
    state.job = null;
  }
  if (!complete(study) && state.shown && !joints(study).some(({ joint }) => joint.name))
    [state.shown, state.chosen] = [null, ""];
  draw();
  drawFront();
}

/** Offer a step where both material and cost are to be traded: only then there is one. */
function offerStep() {
  const both = ["material", "cost"].every(
    (wish) => document.querySelector(`#front-over input[value="${wish}"]`).checked,
  );
  byId("front-step-box").hidden = !both;
  return both ? byId("front-percent").value.trim().replace(",", ".") : "";
}

/** Offer cost where the shop states prices; then cost and material are taken where the study wishes for them. */
function offerCost(study) {
  const box = document.querySelector('#front-over input[value="cost"]');
  const there = Boolean(study.shop?.prices);
  const order = study.wishes?.order;
  if (there === !box.parentElement.hidden) return;
  box.parentElement.hidden = !there;
  const wished = (wish) => !Array.isArray(order) || order.includes(wish);
  box.checked = there && Array.isArray(order) && wished("cost");
  document.querySelector('#front-over input[value="material"]').checked = !there || wished("material");
  offerStep();
}

/** Say something to those who do not see it. */
function say(text) {
  byId("spoken").textContent = text;
}

function listen() {
  connection.addEventListener("state", ({ detail }) => {
    const box = byId("connection");
    box.dataset.state = detail;
    byId("key-form").hidden = detail !== "key";
    fill(byId("connection-said"), detail === "key" ? t("connection.key") : t(`connection.${detail}`));
    clearTimeout(listen.timer);
    if (detail === "back")
      listen.timer = setTimeout(() => {
        box.dataset.state = "ok";
        fill(byId("connection-said"));
      }, 12_000);
  });
  byId("key-form").addEventListener("submit", (event) => {
    event.preventDefault();
    giveKey(byId("key").value.trim());
    byId("connection").dataset.state = "ok";
    byId("key-form").hidden = true;
    fill(byId("connection-said"));
  });
  const acts = {
    undo,
    redo,
    solve: () => solve(current()),
    // points are numbered anew while others are found
    keep: () => keep(state.shown, state.front?.open ? 0 : front.numberOf(state.shown?.point)),
    "add-robot": addRobot,
    "decides-go": () => askOf("ranked", "assumptions"),
    "band-go": () => askOf("band", "band"),
    "losses-go": () => askOf("losses", "losses"),
    "front-go": askFront,
    "front-stop": () => state.front?.stop(),
    print: () => window.print(),
    new: () => start(EMPTY),
    "make-sheets": () => makeSheets(state.shown, draw),
    save: () => save(`${stem(current().title)}.json`, `${JSON.stringify(current(), null, 2)}\n`),
    open: () => byId("file").click(),
    "previous-open": () => byId("previous").click(),
    "take-whole": () => fill(byId("whole-said"), takeWhole(byId("whole").value)),
  };
  for (const [id, act] of Object.entries(acts)) byId(id).addEventListener("click", act);
  byId("file").addEventListener("change", openFile);
  byId("previous").addEventListener("change", async () => {
    const [name, text] = await fileText("previous");
    if (name && takePrevious(name, text)) nameBy(() => {});
  });
  for (const axis of ["across", "measure"])
    byId(`front-${axis}`).addEventListener("change", () => {
      front[axis] = byId(`front-${axis}`).value;
      drawFront();
    });
  byId("by-itself").addEventListener("change", draw);
  byId("title").addEventListener("change", () => set(["title"], byId("title").value || undefined));
  byId("scenario").addEventListener("change", async () => {
    const name = byId("scenario").value;
    byId("scenario").value = "";
    if (name) start(await get(`/v1/scenarios/${encodeURIComponent(name)}`));
  });
  byId("language").addEventListener("change", () => chooseLanguage(byId("language").value));
  document.addEventListener("keydown", (event) => {
    const key = event.key.toLowerCase();
    if (!(event.ctrlKey || event.metaKey) || !["z", "y"].includes(key) || event.defaultPrevented) return;
    const node = event.target;
    if (
      /^(INPUT|TEXTAREA)$/.test(node.tagName) &&
      node.type !== "range" &&
      node.type !== "checkbox" &&
      node.value !== node.held
    )
      return;
    event.preventDefault();
    if (key === "y" || event.shiftKey) redo();
    else undo();
  });
  watchRoom(draw);
}

/** Take a study as a whole: what was shown belongs to another. */
function start(study) {
  [state.shown, state.chosen] = [null, ""];
  askSteps(null);
  state.front?.drop();
  state.front = null;
  forgetPrevious();
  dropWhy();
  clearErrors();
  replace(structuredClone(study));
}

/** Change by what names ring parts are called, and ask for the rings anew. */
function nameBy(change) {
  change();
  if (complete(current())) solve(current());
  else draw();
}

/** Return name and text of the file that was chosen, and take it from its input; empty where there is none. */
async function fileText(id) {
  const file = byId(id).files[0];
  byId(id).value = "";
  return file ? [file.name, await file.text()] : ["", ""];
}

async function openFile() {
  const [name, text] = await fileText("file");
  if (!name) return;
  let study = null;
  try {
    study = JSON.parse(text);
  } catch {
    /* told below */
  }
  byId("open-said").textContent = isStudy(study) ? "" : t("open.notStudy", { name });
  if (isStudy(study)) start(study);
}

async function begin() {
  const { languages, language } = await loadTexts();
  for (const node of document.querySelectorAll("[data-text]")) node.textContent = t(node.dataset.text);
  for (const node of document.querySelectorAll("[data-label]"))
    node.setAttribute("aria-label", t(node.dataset.label));
  for (const node of document.querySelectorAll("[data-hint]")) node.title = t(node.dataset.hint);
  for (const node of document.querySelectorAll("[data-empty]")) node.placeholder = t(node.dataset.empty);
  fill(
    byId("language"),
    languages.map((one) => el("option", { value: one.code, selected: one.code === language }, one.name)),
  );
  document.body.append(hatches());
  fill(
    byId("front-over"),
    ["cutters", "ring_parts", "heads", "material", "cost"].map((wish) =>
      el(
        "label",
        { hidden: wish === "cost" },
        el("input", {
          type: "checkbox",
          value: wish,
          checked: wish !== "cost",
          on: { change: offerStep },
        }),
        " ",
        t(`wish.${wish}`),
      ),
    ),
  );
  fill(
    byId("front-across"),
    ACROSS.map((wish) => el("option", { value: wish }, t("front.acrossIs", { axis: t(`wish.${wish}`) }))),
  );
  fill(
    byId("front-measure"),
    ["tool", "error"].map((one) => el("option", { value: one }, t(`front.measure.${one}`))),
  );
  listen();
  await loadFields();
  const { scenarios } = await get("/v1/scenarios");
  fill(
    byId("scenario"),
    el("option", { value: "" }, t("bar.scenario")),
    scenarios.map((one) => el("option", { value: one.name }, one.title)),
  );
  onChange(changed);
  onComparison(draw);
  showKept();
  changed();
  performance.mark("ringset-ready");
  document.documentElement.dataset.ready = "yes";
}

begin();
