// What the service tells of every field, and inputs made from it.

import { el } from "../lib/dom.js";
import { get } from "../lib/service.js";
import { has, num, plain, t, tOr, typed } from "../lib/texts.js";
import { at, current, pointer, set } from "./study.js";

let known = [];

export async function loadFields() {
  known = (await get("/v1/fields")).fields;
}

/** Return the facts of the fields at a place, such as "shop.". */
export const fieldsAt = (place) => known.filter((fact) => fact.place === place);

export const label = (fact) =>
  tOr(fact.place === "shop.prices." ? `field.prices.${fact.name}` : `field.${fact.name}`, fact.name);

/** Return the words of a choice. */
export const choice = (token) => tOr(`choice.${token}`, token);

/** Return a value as an input shows it. */
export function shown(value, fact) {
  if (value === undefined || value === null) return "";
  if (typeof value === "number") return plain(value);
  if (Array.isArray(value) && fact.kind === "list")
    return value.map((one) => (typeof one === "number" ? plain(one) : String(one))).join("; ");
  return typeof value === "string" ? value : JSON.stringify(value);
}

/** Return what was typed as the study holds it; undefined for nothing. `sign` is that of `typed`. */
export function read(text, fact, sign) {
  if (text.trim() === "") return undefined;
  switch (fact.kind) {
    case "number":
    case "integer":
      return typed(text, fact.unit, sign);
    case "yes_no":
      return text === "true" ? true : text === "false" ? false : text;
    case "list": {
      // what has a unit or a pitch behind its number holds spaces of its own: "8; 16 DP; 1 in"
      const between = /\d\s*(in|mm|um|µm|DP|CP)\b/.test(text) ? /;|,\s+/ : /[;\s]+|,\s+/;
      const parts = text
        .split(between)
        .map((part) => part.trim())
        .filter(Boolean)
        .map((part) => typed(part, fact.unit, sign));
      return fact.choices.length && parts.length === 1 && typeof parts[0] === "string" ? parts[0] : parts;
    }
    case "other":
      try {
        return JSON.parse(text);
      } catch {
        return text;
      }
    default:
      return text.trim();
  }
}

/** Return the words for what holds when a field is left empty. */
export function byDefault(fact) {
  if (fact.required) return t("form.needed");
  if (has(`default.${fact.name}`)) return t(`default.${fact.name}`);
  if (fact.default === null) return t("form.none");
  if (typeof fact.default === "number") return num(fact.default);
  if (typeof fact.default === "boolean") return t(fact.default ? "form.yes" : "form.no");
  if (Array.isArray(fact.default)) return fact.default.length ? shown(fact.default, fact) : t("form.none");
  return typeof fact.default === "string" ? choice(fact.default) || t("form.none") : t("form.none");
}

/** Return the input of a field at some keys of the study; it shows and changes what the study holds there. */
export function input(fact, keys, given = {}) {
  const node = ["choice", "yes_no"].includes(fact.kind)
    ? select(fact)
    : el("input", {
        type: "text",
        autocomplete: "off",
        spellcheck: false,
        placeholder: byDefault(fact),
        // lengths may have units behind them
        inputMode:
          ["number", "integer"].includes(fact.kind) && !["mm", "µm"].includes(fact.unit) ? "decimal" : "text",
      });
  for (const [name, value] of Object.entries(given)) node.setAttribute(name, value);
  node.keys = keys;
  node.fact = fact;
  node.dataset.pointer = pointer(keys);
  node.addEventListener("change", () => commit(node));
  refresh(node);
  return node;
}

/** Return the names of the study's own materials for a field that names one. */
const ownMaterials = (fact) =>
  fact.name.endsWith("material") ? Object.keys(at(current(), ["shop", "materials"]) ?? {}) : [];

function select(fact) {
  const options =
    fact.kind === "yes_no"
      ? [
          ["true", t("form.yes")],
          ["false", t("form.no")],
        ]
      : [...fact.choices, ...ownMaterials(fact)].map((token) => [token, choice(token)]);
  return el(
    "select",
    {},
    el("option", { value: "" }, `(${byDefault(fact)})`),
    options.map(([value, text]) => el("option", { value }, text)),
  );
}

/** Write what an input holds into the study. */
export function commit(node) {
  const value = read(node.value, node.fact);
  if (JSON.stringify(value) !== JSON.stringify(at(current(), node.keys))) set(node.keys, value);
  else refresh(node);
}

/** Show what the study holds, unless the reader is typing there. */
export function refresh(node) {
  const text = shown(at(current(), node.keys), node.fact);
  if (node.value !== text && !(node === document.activeElement && node.value !== node.held))
    node.value = text;
  node.held = node.value;
}

/** Return between which values an assumed default may lie, and why. */
function plausible(fact) {
  const end = (value) => (typeof value === "string" ? choice(value) : shown(value, fact));
  const ends = { low: end(fact.plausible_low), high: end(fact.plausible_high) };
  const words = typeof fact.plausible_low === "number" ? "form.plausible" : "form.instead";
  return el("p", {}, t(words, ends), " ", el("span", { lang: "en" }, fact.because));
}

/** Return a labelled input with its unit, its meaning and room for what is wrong. */
export function row(fact, keys) {
  const id = `f${pointer(keys).replaceAll(/[^\w]/g, "-")}`;
  const node = input(fact, keys, { id, "aria-describedby": `${id}-said` });
  return el(
    "div",
    { class: "field" },
    el(
      "label",
      { for: id },
      label(fact),
      fact.assumed ? el("span", { class: "assumed", title: t("form.assumed") }, " ≈") : null,
    ),
    el("span", { class: "entry" }, node, el("span", { class: "unit" }, fact.unit)),
    el(
      "details",
      { class: "meaning" },
      el("summary", { "aria-label": t("form.meaning", { field: label(fact) }) }, "?"),
      el("p", { lang: "en" }, `${fact.name}: ${fact.description}`),
      fact.assumed ? plausible(fact) : null,
    ),
    el("p", { id: `${id}-said`, class: "said" }),
  );
}
