// The study as a form: robots with their tables, targets, wishes, and everything else by group.

import { button, byId, el, fill } from "../lib/dom.js";
import { num, t } from "../lib/texts.js";
import { fieldsAt, label, refresh, row } from "./fields.js";
import { at, current, isStudy, pointer, replace, set } from "./study.js";
import { JOINT, JointTable, chooseColumn, columns, isChosen, isUsual } from "./table.js";

let tables = [];
let shape = "";
let ranked = null;
const FIRST = ["angle_target_arcsec", "basis"];
const HEAD = "head. or heads.NAME.";
const ROBOT = [
  "name",
  "count",
  "tool_point_target_um",
  "tool_point_repeatability_target_um",
  "tool_point_rule",
  "rings_mass_max_kg",
  "rings_inertia_max_kg_m2",
];
const WISHES = ["cutters", "ring_parts", "heads", "material", "cost"];
const CEILINGS = {
  cutters: "cutters_max",
  ring_parts: "ring_parts_max",
  heads: "heads_max",
  material: "material_max_kg",
  cost: "cost_max",
};
/** Angle targets of the slider run from 5 to 1000 arcsec, in equal ratios. */
const [LOW, HIGH, STEPS] = [Math.log(5), Math.log(1000), 400];

const fact = (place, name) => fieldsAt(place).find((one) => one.name === name);
const group = (place, keys, skip = []) =>
  fieldsAt(place)
    .filter((one) => !skip.includes(one.name))
    .map((one) => row(one, [...keys, one.name]));

/** Build the form anew where its shape has changed, else show the values that stand in the study. */
export function showForm() {
  const robots = current().robots ?? [];
  const now = JSON.stringify([
    robots.length,
    (current().robots ?? []).map((r) => Object.keys(r).filter((k) => ["battery", "line"].includes(k))),
    Object.keys(at(current(), ["shop", "materials"]) ?? {}), // fields that name a material offer them
  ]);
  if (now !== shape) {
    shape = now;
    build(robots);
  }
  for (const one of tables) one.update();
  for (const node of document.querySelectorAll("#study [data-pointer]")) if (node.keys) refresh(node);
  showOrder();
  showSlider();
  const text = JSON.stringify(current(), null, 2);
  if (document.activeElement !== byId("whole")) byId("whole").value = text;
  const count = t("table.count", { count: tables.reduce((sum, one) => sum + one.joints.length, 0) });
  if (byId("count").textContent !== count) fill(byId("count"), count);
}

function build(robots) {
  tables = robots.map((_, index) => new JointTable(index));
  fill(byId("robots"), robots.map(robotPart));
  const rest = fieldsAt("target.")
    .map((one) => one.name)
    .filter((name) => !FIRST.includes(name));
  fill(byId("targets"), group("target.", ["target"], rest), slider());
  fill(byId("more-targets"), group("target.", ["target"], FIRST));
  fill(
    byId("ceilings"),
    WISHES.map((wish) => row(fact("wishes.", CEILINGS[wish]), ["wishes", CEILINGS[wish]])),
  );
  byId("ceilings").append(row(fact("wishes.", "count"), ["wishes", "count"]));
  fill(byId("give"), WISHES.map(giveRow));
  byId("give").dataset.pointer = pointer(["wishes", "give"]);
  fill(byId("head-fields"), group(HEAD, ["head"]));
  fill(byId("shop-fields"), group("shop.", ["shop"], ["prices"]));
  fill(byId("price-fields"), group("shop.prices.", ["shop", "prices"]));
  fill(byId("search-fields"), group("search.", ["search"]));
  fill(
    byId("columns"),
    fieldsAt(JOINT)
      .filter((one) => !isUsual(one.name))
      .map(columnChoice),
  );
}

/** How much of one wish may be given up: a number, or a text such as "5 %" or "0.15 kg per head". */
function giveRow(wish) {
  const one = { ...fact("wishes.", "give"), name: `give_${wish}`, kind: "number", default: null };
  return row(one, ["wishes", "give", wish]);
}

function robotPart(robot, index) {
  const keys = ["robots", index];
  const extras = ["battery", "line"].map((part) =>
    el(
      "details",
      { class: "group" },
      el("summary", {}, t(`robot.${part}`)),
      el("div", { class: "fields" }, group(`robots[].${part}.`, [...keys, part])),
    ),
  );
  const several = (current().robots ?? []).length > 1;
  return el(
    "section",
    { class: "robot", "aria-label": t("robot.number", { number: index + 1 }) },
    el(
      "div",
      { class: "fields wide" },
      ROBOT.map((name) => row(fact("robots[].", name), [...keys, name])),
    ),
    tables[index].node,
    tables[index].said,
    el(
      "div",
      { class: "acts" },
      button(t("table.add"), () => tables[index].add()),
      several
        ? button(t("robot.remove"), () =>
            set(
              ["robots"],
              current().robots.filter((_, place) => place !== index),
            ),
          )
        : null,
      el("div", { class: "extras" }, index === 0 ? meanings() : null, extras),
    ),
  );
}

/** What the columns of the table mean, in the API's words; filled when it is opened. */
function meanings() {
  const list = el("dl", { class: "meanings" });
  const box = el("details", { class: "group" }, el("summary", {}, t("table.meaning")), list);
  box.addEventListener("toggle", () =>
    fill(
      list,
      columns().map((one) =>
        el(
          "div",
          {},
          el("dt", {}, label(one), el("span", { class: "unit" }, ` ${one.unit}`)),
          el("dd", { lang: "en" }, one.description),
        ),
      ),
    ),
  );
  return box;
}

function columnChoice(one) {
  const box = el("input", {
    type: "checkbox",
    checked: isChosen(one.name),
    on: {
      change: () => {
        chooseColumn(one.name, box.checked);
        for (const table of tables) table.update();
        box.checked = isChosen(one.name);
      },
    },
  });
  return el(
    "label",
    { class: "column", title: one.description },
    box,
    " ",
    label(one),
    el("span", { class: "unit" }, one.unit),
  );
}

/** Add a robot after the others. */
export function addRobot() {
  const robots = current().robots ?? [];
  set(["robots"], [...robots, { name: t("robot.new", { number: robots.length + 1 }), joints: [{}] }]);
}

function slider() {
  const keys = ["target", "angle_target_arcsec"];
  const node = el("input", {
    id: "angle-slider",
    type: "range",
    min: 0,
    max: STEPS,
    step: 1,
    "aria-label": t("targets.slider"),
    on: {
      input: () => {
        const value = Math.exp(LOW + ((HIGH - LOW) * node.value) / STEPS);
        set(keys, Number(value.toPrecision(2)));
      },
    },
  });
  return node;
}

function showSlider() {
  const node = byId("angle-slider");
  const value = at(current(), ["target", "angle_target_arcsec"]);
  const number = typeof value === "number" && value > 0 ? value : 100;
  if (node !== document.activeElement)
    node.value = Math.round((STEPS * (Math.log(number) - LOW)) / (HIGH - LOW));
  node.setAttribute("aria-valuetext", `${num(number)} arcsec`);
}

/** The order in which wishes count; a wish that is not listed does not count. */
function showOrder() {
  const given = at(current(), ["wishes", "order"]);
  const order = Array.isArray(given) ? given : fact("wishes.", "order").default;
  if (order.join() === ranked) return;
  ranked = order.join();
  const keys = ["wishes", "order"];
  const held = document.activeElement?.dataset?.wish;
  const move = (from, to) => {
    const next = [...order];
    next.splice(to, 0, ...next.splice(from, 1));
    set(keys, next);
  };
  const act = (sign, key, wish, enabled, what) =>
    button(sign, what, {
      class: "icon",
      disabled: !enabled,
      "aria-label": t(key, { wish: t(`wish.${wish}`) }),
      "data-wish": `${key} ${wish}`,
    });
  fill(
    byId("order"),
    order
      .filter((wish) => WISHES.includes(wish))
      .map((wish, index) =>
        el(
          "li",
          {},
          el("span", { class: "rank" }, num(index + 1)),
          el("span", { class: "what" }, t(`wish.${wish}`)),
          act("↑", "wishes.up", wish, index > 0, () => move(index, index - 1)),
          act("↓", "wishes.down", wish, index < order.length - 1, () => move(index, index + 1)),
          act("×", "wishes.drop", wish, order.length > 1, () =>
            set(
              keys,
              order.filter((one) => one !== wish),
            ),
          ),
        ),
      ),
    WISHES.filter((wish) => !order.includes(wish)).map((wish) =>
      el(
        "li",
        { class: "off" },
        el("span", { class: "rank" }, "–"),
        el("span", { class: "what" }, t(`wish.${wish}`)),
        act("+", "wishes.add", wish, true, () => set(keys, [...order, wish])),
      ),
    ),
  );
  byId("order").dataset.pointer = pointer(keys);
  if (held)
    byId("order")
      .querySelector(`[data-wish="${CSS.escape(held)}"]`)
      ?.focus();
}

/** Take the study from the text of the JSON editor; returns what is wrong with it, if anything is. */
export function takeWhole(text) {
  let given;
  try {
    given = JSON.parse(text);
  } catch (error) {
    return t("whole.notJson", { why: error.message });
  }
  if (!isStudy(given)) return t("whole.notStudy");
  replace(given);
  return "";
}
