// What the API says is allowed, in the reader's words: of its sentences those that have a fixed form.

import { has, num, t } from "../lib/texts.js";
import { choice } from "./fields.js";

const field = (name) => t(`field.${name}`);
const number = (text) => num(Number(text));
const N = "(-?[\\d.]+(?:e[+-]?\\d+)?)";

/** Forms of what is allowed, each with the key of its text and what fills it. */
const FORMS = [
  [/^this field is required$/, "fault.required"],
  [/^a valid (?:number|decimal)\b/, "fault.number"],
  [/^a number in \w+ .*text with a unit/, "fault.length"],
  [/^a module in mm, or the pitch/, "fault.module"],
  [/^a finite number$/, "fault.number"],
  [/^a valid integer\b/, "fault.integer"],
  [/^a valid string$/, "fault.text"],
  [/^a valid (?:list|array)$/, "fault.list"],
  [/^a valid boolean\b/, "fault.yesNo"],
  [/^only the fields of the schema$/, "fault.unknown"],
  [/^each value once$/, "fault.once"],
  [new RegExp(`^greater than or equal to ${N}(?: [mu]m)?$`), "fault.least", (a) => ({ value: number(a) })],
  [new RegExp(`^less than or equal to ${N}(?: [mu]m)?$`), "fault.most", (a) => ({ value: number(a) })],
  [new RegExp(`^greater than ${N}(?: [mu]m)?$`), "fault.above", (a) => ({ value: number(a) })],
  [new RegExp(`^less than ${N}(?: [mu]m)?$`), "fault.below", (a) => ({ value: number(a) })],
  [/^at least (\d+) items?$/, "fault.items", (a) => ({ count: Number(a) })],
  [/^at most (\d+) items?$/, "fault.itemsMost", (a) => ({ count: Number(a) })],
  [new RegExp(`^at least (?:the head's )?(\\w+) = ${N}$`), "fault.leastOf", ofField],
  [new RegExp(`^more than (\\w+) = ${N}$`), "fault.aboveOf", ofField],
  [new RegExp(`^less than (\\w+) = ${N}(?: \\(.*\\))?$`), "fault.belowOf", ofField],
  [/^reach_mm above 0 on some joint$/, "fault.reach"],
  [/^at most 24 letters /, "fault.partPrefix"],
  [/^a text whose names read as no number/, "fault.partNumber"],
];

function ofField(name, value) {
  return has(`field.${name}`) ? { field: field(name), value: number(value) } : null;
}

/** Return what is allowed in the reader's words; empty where only the API has words for it. */
export function allowedWords(detail) {
  const allowed = detail.replace(/^allowed: /, "");
  const choices = allowed.match(/^'[^']+'(?:(?:, | or )'[^']+')*$/);
  if (choices) return t("fault.choice", { choices: allowed.match(/[^']+(?=')/g).filter((one) => !/^(, | or )$/.test(one)).map(choice).join(", ") });
  for (const [form, key, given] of FORMS) {
    const found = allowed.match(form);
    const values = found && (given ? given(...found.slice(1)) : {});
    if (values) return t(key, values);
  }
  return "";
}
