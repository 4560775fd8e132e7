// The joint table of one robot: one input a cell, moved through with arrows, filled from a spreadsheet.

import { button, el, fill } from "../lib/dom.js";
import { plain, t, toldSign, typed } from "../lib/texts.js";
import { fieldsAt, input, label, read, refresh } from "./fields.js";
import { cells, decimalOf, placed } from "./paste.js";
import { current, replace, undo, redo, set } from "./study.js";

const USUAL = [
  "name",
  "bore_min_mm",
  "bore_max_mm",
  "tip_max_mm",
  "reach_mm",
  "speed_max_rpm",
  "angle_target_arcsec",
];
export const JOINT = "robots[].joints[].";
const chosen = new Set(USUAL);

/** Return the columns: the usual ones, those chosen, and those that some joint of the study states. */
export function columns() {
  const used = new Set(
    (current().robots ?? []).flatMap((robot) => (robot.joints ?? []).flatMap(Object.keys)),
  );
  const facts = fieldsAt(JOINT);
  const usual = USUAL.map((name) => facts.find((fact) => fact.name === name));
  return [
    ...usual,
    ...facts.filter((fact) => !USUAL.includes(fact.name) && (chosen.has(fact.name) || used.has(fact.name))),
  ];
}

/** Show or hide a column; a column that some joint fills stays. */
export function chooseColumn(name, wanted) {
  if (wanted) chosen.add(name);
  else chosen.delete(name);
}

export const isChosen = (name) => columns().some((fact) => fact.name === name);
export const isUsual = (name) => USUAL.includes(name);

/** The table of a robot. */
export class JointTable {
  constructor(robot) {
    this.robot = robot;
    this.facts = [];
    this.head = el("thead");
    this.body = el("tbody");
    this.node = el(
      "div",
      { class: "scroll", role: "region", tabIndex: -1, "aria-label": t("table.caption") },
      el(
        "table",
        { class: "joints", on: { keydown: (e) => this.#keyed(e), paste: (e) => this.#pasted(e) } },
        el("caption", { class: "hidden" }, t("table.caption")),
        this.head,
        this.body,
      ),
    );
    this.said = el("p", { class: "pasted", role: "status" });
    this.told = null; // the study that a paste has led to, whose words still stand
    this.update();
  }

  get joints() {
    return current().robots?.[this.robot]?.joints ?? [];
  }

  /** The rows of joints, without those that tell their faults. */
  get rows() {
    return [...this.body.querySelectorAll("tr.joint")];
  }

  /** Show the study; rows that stand are kept, so that typing and focus are. */
  update() {
    const facts = columns();
    if (facts.map((f) => f.name).join() !== this.facts.map((f) => f.name).join()) this.#build(facts);
    const rows = this.rows;
    if (rows.length !== this.joints.length)
      for (const fault of this.body.querySelectorAll("tr.fault")) fault.remove();
    for (const row of rows.slice(this.joints.length)) row.remove();
    for (let index = rows.length; index < this.joints.length; index += 1) this.body.append(this.#row(index));
    for (const cell of this.body.querySelectorAll("input, select")) refresh(cell);
    if (this.told && this.told !== current()) fill(this.said);
  }

  #build(facts) {
    this.facts = facts;
    this.head.parentNode.style.setProperty("--columns", facts.length); // beside the names; the last one acts
    fill(this.body);
    fill(
      this.head,
      el(
        "tr",
        {},
        facts.map((fact) =>
          el(
            "th",
            { scope: "col", title: `${fact.name}: ${fact.description}` },
            label(fact),
            el("span", { class: "unit" }, fact.unit),
          ),
        ),
        el("th", { scope: "col" }, el("span", { class: "hidden" }, t("table.change"))),
      ),
    );
  }

  #row(index) {
    const cell = (fact) => {
      const node = input(fact, ["robots", this.robot, "joints", index, fact.name], {
        "aria-label": t("table.cell", { field: label(fact), row: index + 1 }),
      });
      if (fact.name === "name") node.placeholder = t("table.name");
      return el(fact.name === "name" ? "th" : "td", { scope: fact.name === "name" ? "row" : null }, node);
    };
    const act = (sign, key, what) =>
      button(sign, (event) => what(this.rows.indexOf(event.target.closest("tr"))), {
        class: "icon",
        tabIndex: -1,
        "aria-label": t(key, { row: index + 1 }),
        title: t(key, { row: index + 1 }),
      });
    return el(
      "tr",
      { class: "joint" },
      this.facts.map(cell),
      el(
        "td",
        { class: "acts" },
        act("↑", "table.up", (row) => this.move(row, -1)),
        act("×", "table.remove", (row) => this.remove(row)),
      ),
    );
  }

  cell(row, column) {
    return this.rows[row]?.cells[column]?.querySelector("input, select");
  }

  add() {
    set(["robots", this.robot, "joints"], [...this.joints, {}]);
    this.cell(this.joints.length - 1, 0)?.focus();
  }

  remove(row) {
    set(
      ["robots", this.robot, "joints"],
      this.joints.filter((_, index) => index !== row),
    );
    this.cell(Math.min(row, this.joints.length - 1), 0)?.focus();
  }

  move(row, step) {
    const list = [...this.joints];
    const to = row + step;
    if (to < 0 || to >= list.length) return;
    [list[row], list[to]] = [list[to], list[row]];
    set(["robots", this.robot, "joints"], list);
  }

  #keyed(event) {
    const node = event.target;
    if (!node.fact) return;
    const column = node.closest("th, td").cellIndex;
    const row = this.rows.indexOf(node.closest("tr"));
    const go = (down, right) => {
      const to = this.cell(row + down, column + right);
      if (!to) return false;
      event.preventDefault();
      to.focus();
      to.select?.();
      return true;
    };
    const text = node.selectionStart !== undefined && node.tagName === "INPUT";
    const all = text && node.selectionStart === 0 && node.selectionEnd === node.value.length;
    const first = !text || all || (node.selectionStart === 0 && node.selectionEnd === 0);
    const last =
      !text || all || (node.selectionStart === node.value.length && node.selectionEnd === node.value.length);
    const command = event.ctrlKey || event.metaKey;
    if (event.altKey && ["ArrowUp", "ArrowDown"].includes(event.key)) {
      event.preventDefault();
      node.blur();
      this.move(row, event.key === "ArrowUp" ? -1 : 1);
      this.cell(row + (event.key === "ArrowUp" ? -1 : 1), column)?.focus();
    } else if (event.key === "ArrowUp" && text) go(-1, 0);
    else if ((event.key === "ArrowDown" || event.key === "Enter") && text) {
      if (!go(1, 0) && event.key === "Enter") {
        event.preventDefault();
        node.blur();
        this.add();
      }
    } else if (event.key === "ArrowLeft" && first) go(0, -1);
    else if (event.key === "ArrowRight" && last) go(0, 1);
    else if (event.key === "Delete" && command) {
      event.preventDefault();
      this.remove(row);
    } else if (event.key === "Escape") {
      node.value = node.held;
      node.select?.();
    } else if (command && ["z", "y"].includes(event.key.toLowerCase()) && node.value === node.held) {
      event.preventDefault();
      if (event.key.toLowerCase() === "y" || event.shiftKey) redo();
      else undo();
    }
  }

  #pasted(event) {
    const node = event.target;
    const { grid, ragged } = cells(event.clipboardData?.getData("text/plain") ?? "");
    if (!node.fact || (!ragged && grid.length < 2 && (grid[0]?.length ?? 0) < 2)) return;
    event.preventDefault();
    if (ragged) {
      fill(this.said, t("paste.ragged"));
      return;
    }
    const column = node.closest("th, td").cellIndex;
    const found = placed(grid, this.facts, column, fieldsAt(JOINT), label);
    node.value = node.held;
    this.#take(found, this.rows.indexOf(node.closest("tr")), this.joints, decimalOf(found.rows, found.facts));
  }

  /** Write pasted rows over joints, from `start` on, and tell what was made of them. */
  #take(found, start, joints, { sign, either, unit }) {
    const list = structuredClone(joints);
    found.rows.forEach((texts, index) => {
      const joint = (list[start + index] ??= {});
      texts.forEach((text, place) => {
        const fact = found.facts[place];
        if (!fact) return;
        // what can be read in two ways stays the text that it is until somebody has said how
        const open = !sign && either.includes(text) && toldSign(text, fact.unit) === "either";
        const value = open ? text : read(text, fact, sign || undefined);
        if (value === undefined) delete joint[fact.name];
        else joint[fact.name] = value;
      });
    });
    const next = structuredClone(current());
    next.robots[this.robot].joints = list;
    replace(next);
    this.told = current();
    const { lost } = found;
    const words = [
      t("paste.rows", { count: found.rows.length }),
      found.unnamed ? t("paste.unnamed") : "",
      lost.length ? t("paste.lost", { columns: lost.map((text) => `“${text || "–"}”`).join(", ") }) : "",
      found.beyond ? t("paste.beyond", { count: found.beyond }) : "",
      sign && either.length ? t("paste.decimal", { sign, text: either[0] }) : "",
      !sign && either.length ? t("paste.either", { count: either.length, text: either[0] }) : "",
    ];
    fill(
      this.said,
      words.filter(Boolean).join(" "),
      sign || !either.length
        ? null
        : [".", ","].map((one) =>
            button(t("paste.readAs", { text: either[0], value: plain(typed(either[0], unit, one)) }), () =>
              this.#take(found, start, joints, { sign: one, either, unit }),
            ),
          ),
    );
  }
}
