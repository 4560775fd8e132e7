// What a spreadsheet puts on the clipboard, as rows of texts with the columns they belong to.

import { isUnit, typed } from "../lib/texts.js";

/** Return the cells of pasted text: tabs, else semicolons, part columns; quotes hold what a cell holds. */
export function cells(text) {
  const clean = text.replaceAll("\r\n", "\n").replace(/\n+$/, "");
  if (!clean) return [];
  const mark = clean.includes("\t") ? "\t" : clean.includes("\n") && clean.includes(";") ? ";" : "\t";
  const rows = [[""]];
  let quoted = false;
  for (let i = 0; i < clean.length; i += 1) {
    const sign = clean[i];
    const row = rows.at(-1);
    if (quoted) {
      if (sign === '"' && clean[i + 1] === '"') {
        row[row.length - 1] += '"';
        i += 1;
      } else if (sign === '"') quoted = false;
      else row[row.length - 1] += sign === "\n" ? " " : sign;
    } else if (sign === '"' && row.at(-1) === "") quoted = true;
    else if (sign === mark) row.push("");
    else if (sign === "\n") rows.push([""]);
    else row[row.length - 1] += sign;
  }
  return rows.map((row) => row.map((cell) => cell.trim()));
}

/** Words that people write over a column besides the names and labels of its field, in any language. */
const WORDS = {
  name: "joint jointname axis axisname axle gelenk gelenkname achse achsname achsenname bezeichnung",
  bore_min_mm: "boremin minbore borefrom boreatleast smallestbore bohrungmin minbohrung bohrungab bohrungvon kleinstebohrung",
  bore_max_mm: "boremax maxbore boreto boreatmost largestbore bohrungmax maxbohrung bohrungbis größtebohrung",
  tip_max_mm:
    "tip tipmax maxtip tipto tiplimit tipatmost tipdiameter tipdiametermax maxtipdiameter kopfkreis kopfkreismax kopfkreisbis kopfkreisgrenze",
  tip_min_mm: "tipmin mintip tipfrom tipatleast kopfkreismin kopfkreisab kopfkreisvon",
  reach_mm: "reach reichweite ausladung",
  speed_max_rpm: "speed speedmax maxspeed drehzahl drehzahlmax maxdrehzahl",
  angle_target_arcsec: "target angletarget targetangle ziel winkelziel zielwinkel",
};
const UNIT = /^(mm|cm|m|µm|μm|um|in|inch|zoll|"|''|″|°|deg|rad|arcmin|arcsec|bogensek\.?|rpm|[1u]\/min|(°|deg|rad)\/s|hz|kg|g|k|°c)$/i;
const BRACKETS = /[([{](.*?)[)\]}]/g;

const bare = (text) =>
  text
    .toLowerCase()
    .replace(BRACKETS, "")
    .replace(/[^\p{L}\p{N}]/gu, "")
    .replace(/(mm|rpm|arcsec|um|µm)$/, "");

/** Return the field that a heading names; none where it names a unit that is not the field's. */
function named(text, known) {
  const fact = known.get(bare(text));
  const units = [...text.matchAll(BRACKETS)].map((found) => found[1].trim()).filter((one) => UNIT.test(one));
  return fact && units.every((unit) => isUnit(unit, fact.unit)) ? fact : undefined;
}

const isNumber = (text, fact) => typeof typed(text, fact?.unit) === "number";
const numeric = (fact) => ["number", "integer"].includes(fact?.kind);

/**
 * Return the facts of the columns, the rows to fill, the headings that name no field, how many columns
 * lie beyond the last, and whether the first row was a heading that named none of them.
 * A first row without a number where numbers belong is a heading, never a joint.
 */
export function placed(grid, facts, column, all, label) {
  const words = all.flatMap((fact) =>
    [...(WORDS[fact.name] ?? "").split(" ").filter(Boolean), fact.name, label(fact)].map((word) => [
      bare(word),
      fact,
    ]),
  );
  const known = new Map(words);
  const first = grid[0];
  const taken = new Set();
  const heads = first.map((text) => {
    const fact = named(text, known);
    if (!fact || taken.has(fact)) return undefined; // a second column of one field would overwrite the first
    taken.add(fact);
    return fact;
  });
  const here = facts.slice(column);
  const wordless = !first.some((text, place) => isNumber(text, here[place]));
  const amiss = grid.length > 1 && first.some((text, place) => text && numeric(here[place]));
  if (taken.size * 2 > first.length || (wordless && taken.size > 0)) {
    const lost = first.filter((text, place) => !heads[place] && grid.some((row) => row[place]));
    return { facts: heads, rows: grid.slice(1), lost, beyond: 0, unnamed: false };
  }
  const unnamed = wordless && amiss;
  const beyond = Math.max(0, Math.max(...grid.map((row) => row.length)) - here.length);
  return { facts: here, rows: unnamed ? grid.slice(1) : grid, lost: [], beyond, unnamed };
}
