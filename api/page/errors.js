// What the API finds wrong, in its own words, at the fields it names.

import { button, byId, el, fill } from "./dom.js";
import { at, current } from "./study.js";
import { t } from "./texts.js";

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

/** Show a problem: at each field its own words, and all of them in a list that leads there. */
export function showErrors(problem) {
  clearErrors();
  const faults = problem.errors ?? [];
  byId("faults").hidden = false;
  fill(
    byId("faults"),
    el(
      "p",
      {},
      el("strong", {}, `${problem.title ?? ""}.`),
      " ",
      el("span", { lang: "en" }, problem.detail ?? ""),
    ),
    el(
      "ul",
      { lang: "en" },
      faults.map((fault) =>
        el(
          "li",
          {},
          button(named(fault.pointer), () => lead(fault.pointer), { class: "link" }),
          ` ${fault.detail}`,
        ),
      ),
    ),
  );
  const rows = new Map();
  for (const fault of faults) mark(fault, rows);
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
  node.title = fault.detail;
  for (let box = node.closest("details"); box; box = box.parentElement.closest("details")) box.open = true;
  const said = node.closest(".field")?.querySelector(".said");
  if (said) {
    said.textContent = fault.detail;
    return;
  }
  const row = node.closest("tr");
  if (!row) return;
  if (!rows.has(row)) {
    rows.set(row, el("td", { colspan: row.cells.length, id: `fault-${rows.size}`, lang: "en" }));
    row.after(el("tr", { class: "fault" }, rows.get(row)));
  }
  rows.get(row).append(el("p", {}, el("strong", {}, `${node.fact?.name ?? ""}: `), fault.detail));
  node.setAttribute("aria-describedby", rows.get(row).id);
}

/** Return a pointer as people read it: joints by name. */
function named(pointer) {
  const keys = pointer
    .split("/")
    .slice(1)
    .map((part) => part.replaceAll("~1", "/").replaceAll("~0", "~"));
  if (!keys.length) return t("faults.whole");
  const joint = keys[2] === "joints" && at(current(), ["robots", Number(keys[1]), "joints", Number(keys[3])]);
  if (joint) return [joint.name || t("table.row", { row: Number(keys[3]) + 1 }), ...keys.slice(4)].join(", ");
  return keys.join(", ");
}

function lead(pointer) {
  const node = find(pointer);
  node?.focus();
  node?.scrollIntoView({ block: "center" });
}
