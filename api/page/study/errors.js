// What the API finds wrong, at the fields it names: in words of the catalogue where it has any, else in the API's.

import { button, byId, el, fill } from "../lib/dom.js";
import { has, t, tOr } from "../lib/texts.js";
import { allowedWords } from "./fault_words.js";
import { label } from "./fields.js";
import { at, current } from "./study.js";

/** Take every mark of a fault away. */
export function clearErrors() {
  for (const node of document.querySelectorAll("#study [aria-invalid]")) {
    node.removeAttribute("aria-invalid");
    delete node.dataset.gap;
    node.removeAttribute("title");
  }
  for (const node of document.querySelectorAll("#study .said")) node.textContent = "";
  for (const node of document.querySelectorAll("#study tr.fault")) node.remove();
  fill(byId("faults"));
  byId("faults").hidden = true;
}

/** Show a problem: at each field what is wrong there, and all of them in a list that leads there. */
export function showErrors(problem) {
  clearErrors();
  const faults = problem.errors ?? [];
  byId("faults").hidden = false;
  fill(
    byId("faults"),
    el(
      "p",
      {},
      faults.length
        ? el("strong", {}, t("fault.count", { count: faults.length }))
        : el("span", { lang: "en" }, el("strong", {}, `${problem.title ?? ""}.`), ` ${problem.detail ?? ""}`),
    ),
    el(
      "ul",
      {},
      faults.map((fault) =>
        el(
          "li",
          {},
          button(named(fault.pointer), () => lead(fault.pointer), { class: "link" }),
          ": ",
          words(fault),
        ),
      ),
    ),
  );
  const rows = new Map();
  for (const fault of faults.flatMap(atNames)) mark(fault, rows);
}

/** Return what is wrong: in the reader's words where there are any, else in the API's with our labels. */
function words(fault) {
  const known = allowedWords(fault.detail);
  if (known) return known;
  const names = fault.twice ? [fault.twice] : [...twice(fault).keys()];
  if (names.length) return t("fault.twice", { names: names.join(", ") });
  const detail = fault.detail.replace(/\b[a-z]+(?:_[a-z0-9]+)+\b/g, (name) =>
    has(`field.${name}`) ? t(`field.${name}`) : name,
  );
  return el("span", { lang: "en" }, detail);
}

/** Return the names that stand more than once in the list a fault is about, each with its places. */
function twice(fault) {
  if (!/each name once$/.test(fault.detail)) return new Map();
  const list = at(current(), keysAt(fault.pointer));
  const places = new Map();
  for (const [index, one] of (Array.isArray(list) ? list : []).entries())
    places.set(one?.name, [...(places.get(one?.name) ?? []), index]);
  return new Map([...places].filter(([, some]) => some.length > 1));
}

/** Return a fault of repeated names as one at each of them; any other as it is. */
function atNames(fault) {
  const found = [...twice(fault)].flatMap(([name, places]) =>
    places.map((index) => ({ ...fault, pointer: `${fault.pointer}/${index}/name`, twice: name })),
  );
  return found.length ? found : [fault];
}

function find(pointer) {
  for (let place = pointer; place; place = place.slice(0, place.lastIndexOf("/"))) {
    const node = document.querySelector(`#study [data-pointer="${CSS.escape(place)}"]`);
    if (node) return node;
  }
  return null;
}

function mark(fault, rows) {
  const node = find(fault.pointer);
  if (!node) return;
  node.setAttribute("aria-invalid", "true");
  node.title = el("span", {}, words(fault)).textContent;
  for (let box = node.closest("details"); box; box = box.parentElement.closest("details")) box.open = true;
  const said = node.closest(".field")?.querySelector(".said");
  if (said) {
    fill(said, words(fault));
    return;
  }
  const row = node.closest("tr");
  if (!row) return;
  if (!rows.has(row)) {
    rows.set(row, el("td", { colspan: row.cells.length, id: `fault-${rows.size}` }));
    row.after(el("tr", { class: "fault" }, rows.get(row)));
  }
  rows.get(row).append(el("p", {}, el("strong", {}, node.fact ? `${label(node.fact)}: ` : ""), words(fault)));
  node.setAttribute("aria-describedby", rows.get(row).id);
}

/** Return the keys of a pointer; places in lists as numbers. */
const keysAt = (pointer) =>
  pointer
    .split("/")
    .slice(1)
    .map((part) => part.replaceAll("~1", "/").replaceAll("~0", "~"))
    .map((part) => (/^\d+$/.test(part) ? Number(part) : part));

/** Return a pointer as people read it: joints and robots by name, fields by their labels. */
function named(pointer) {
  const keys = keysAt(pointer);
  if (!keys.length) return t("faults.whole");
  const field = (key) => tOr(`field.${key}`, String(key));
  if (keys[0] !== "robots" || keys.length < 2) return keys.map(field).join(", ");
  const robot = String(at(current(), keys.slice(0, 2))?.name || t("robot.number", { number: keys[1] + 1 }));
  if (keys[2] !== "joints" || keys.length < 4) return [robot, ...keys.slice(2).map(field)].join(", ");
  const joint = at(current(), keys.slice(0, 4))?.name || t("table.row", { row: keys[3] + 1 });
  return [String(joint), ...keys.slice(4).map(field)].join(", ");
}

function lead(pointer) {
  const node = find(pointer);
  node?.focus();
  node?.scrollIntoView({ block: "center" });
}
