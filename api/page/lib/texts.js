// Texts from one catalogue per language, and numbers as the reader writes them.

let texts = {};
let locale = "en";
let language = "en";
let decimal = ".";
let rules = new Intl.PluralRules("en");
const formats = new Map();

/** Load the catalogue of the reader's language; returns the languages there are. */
export async function loadTexts() {
  const { languages } = await (await fetch("/page/texts.json")).json();
  const codes = languages.map((known) => known.code);
  const wished = [localStorage.getItem("ringset.language"), ...navigator.languages].filter(Boolean);
  language = wished.map((tag) => tag.split("-")[0]).find((code) => codes.includes(code)) ?? "en";
  texts = await (await fetch(`/page/texts/${language}.json`)).json();
  locale = navigator.languages.find((tag) => tag.split("-")[0] === language) ?? language;
  rules = new Intl.PluralRules(locale);
  formats.clear();
  decimal = new Intl.NumberFormat(locale).formatToParts(1.5).find((part) => part.type === "decimal").value;
  document.documentElement.lang = language;
  return { languages, language };
}

/** Remember a language for this browser. */
export function chooseLanguage(code) {
  localStorage.setItem("ringset.language", code);
  location.reload();
}

/** Return a text with its {places} filled; with `count` the right one of KEY.one and KEY.other. */
export function t(key, values = {}) {
  const name = values.count === undefined ? key : `${key}.${rules.select(values.count)}`;
  const text = texts[name] ?? texts[`${key}.other`] ?? key;
  return text.replace(/\{(\w+)\}/g, (whole, place) =>
    values[place] === undefined
      ? whole
      : typeof values[place] === "number"
        ? num(values[place])
        : String(values[place]),
  );
}

/** Return whether there is a text. */
export const has = (key) => key in texts;

/** Return a text if there is one, else another. */
export const tOr = (key, other) => (has(key) ? t(key) : other);

function format(options) {
  const name = JSON.stringify(options);
  if (!formats.has(name)) formats.set(name, new Intl.NumberFormat(locale, options));
  return formats.get(name);
}

/** Return a number for people, with at most some decimals. */
export function num(value, decimals = 6) {
  return Number.isFinite(value) ? format({ maximumFractionDigits: decimals }).format(value) : "–";
}

/** Return a number with a fixed count of decimals. */
export function fixed(value, decimals) {
  const options = { minimumFractionDigits: decimals, maximumFractionDigits: decimals };
  return Number.isFinite(value) ? format(options).format(value) : "–";
}

/** Return a number with some significant digits. */
export function sig(value, digits = 4) {
  return Number.isFinite(value) ? format({ maximumSignificantDigits: digits }).format(value) : "–";
}

/** Return a number as an input shows it: in the reader's signs, without grouping, unrounded. */
export function plain(value) {
  return String(value).replace(".", decimal);
}

/** How units are written besides as the API writes them. */
const SPELLINGS = {
  µm: ["μm", "um"],
  arcsec: ["″", '"', "''", "bogensek", "bogensek.", "bogensekunden"],
  rpm: ["1/min", "u/min", "min⁻¹"],
  "°": ["deg", "grad"],
};
const spellings = (unit) => (unit ? [unit.toLowerCase(), ...(SPELLINGS[unit] ?? [])] : []);

/** Return whether a text is a unit of the API as people write it. */
export const isUnit = (text, unit) => spellings(unit).includes(text.trim().toLowerCase());

/** What stands between thousands and is never a decimal sign. */
const GROUPING = /(?<=\d)[\s\u00a0\u202f’'](?=\d{3}(?!\d))/g;

/** Return a text without the unit behind its number; "301/min" may hold a 1 of either, so it stays. */
function unitless(text, unit) {
  for (const end of spellings(unit)) {
    const front = text.slice(0, -end.length);
    if (text.toLowerCase().endsWith(end) && (/^\d/.test(end) ? /\d\s+$/ : /\d[.,]?\s*$/).test(front))
      return front.trim();
  }
  return text;
}

/**
 * Return the sign before the decimals of a number as people write it: "." or ","; "either" where one sign
 * stands three digits before the end and may as well group thousands; "" where none stands, null for no number.
 * Only whole groups of three digits are thousands: "1,2,4" is no number.
 */
function decimalSign(bare) {
  const close = bare.replace(GROUPING, "");
  const [, front, power] = /^[+-]?([\d.,]+)(e[+-]?\d+)?$/i.exec(close) ?? [];
  if (front === undefined || !/\d/.test(front)) return null;
  const signs = front.replace(/\d/g, "");
  if (!signs) return "";
  const last = signs.at(-1);
  const other = last === "." ? "," : ".";
  const grouped = (text, sign) => new RegExp(`^\\d{1,3}([${sign}]\\d{3})+$`).test(text);
  if (signs.length > 1) {
    if (!signs.includes(other)) return grouped(front, last) ? other : null;
    const [whole, decimals] = [front.slice(0, front.lastIndexOf(last)), front.slice(front.lastIndexOf(last) + 1)];
    return grouped(whole, other) && /^\d*$/.test(decimals) ? last : null;
  }
  const thousands = grouped(front, last) && !front.startsWith("0");
  return thousands && !power && close === bare ? "either" : last;
}

/** Return the decimal sign that a text itself tells, as `decimalSign` does, its unit aside. */
export const toldSign = (given, unit = "") => decimalSign(unitless(given.trim(), unit).trim());

/** A length with a unit that is not its field's own, such as 2.5 in; fractions are taken as they are. */
const LENGTH = /^(?<number>[\d.,]+|(?:\d+ +)?\d+\/\d+)\s*(?<unit>in|mm|um|µm)$/;

/** Return number and unit of a text that the API reads as a length, null for others. */
function lengthParts(given, unit) {
  if (!["mm", "µm"].includes(unit)) return null;
  const found = LENGTH.exec(given.trim())?.groups;
  if (!found || isUnit(found.unit, unit)) return null;
  return { number: found.number, unit: found.unit.replace("µ", "u") };
}

const MM = { mm: 1, um: 1e-3, µm: 1e-3, in: 25.4 };

/** Return a length that a study holds in a field of mm, a number or a text with its unit, in mm; else null. */
export function inMm(value) {
  if (typeof value === "number") return value;
  const found = typeof value === "string" ? LENGTH.exec(value)?.groups : null;
  if (!found) return null;
  const parts = found.number.split(/ +/).map((part) => part.split("/").map(Number));
  return MM[found.unit] * parts.reduce((sum, [over, under]) => sum + over / (under ?? 1), 0);
}

/** Return whether what a study holds in a field is a length with its unit, which the API reads. */
export const isLength = (value, unit) =>
  ["mm", "µm"].includes(unit) && typeof value === "string" && LENGTH.test(value);

/**
 * Return what was typed as a number if it is one, else as the text that it is: the API tells what is wrong.
 * The field's own unit may stand behind the number; with any other it is a text. Where the number may be
 * read in two ways, `sign` stands before its decimals: the reader's own, or that of a whole table.
 */
export function typed(given, unit = "", sign = decimal) {
  const length = lengthParts(given, unit);
  if (length) return `${typed(length.number, "", sign)} ${length.unit}`;
  const text = unitless(given.trim(), unit).trim();
  const told = decimalSign(text);
  if (told === null) return given.trim();
  const mark = told === "either" ? sign : told;
  const digits = [...text.replace(GROUPING, "")]
    .map((one) => (one === mark ? "." : /[.,]/.test(one) ? "" : one))
    .join("");
  const value = Number(digits);
  return Number.isFinite(value) ? value : given.trim();
}
