// What a spreadsheet puts on the clipboard, as rows of texts with the columns they belong to.

import { isUnit, toldSign, typed } from "../lib/texts.js";

/**
 * Return the rows of cells of pasted text, and whether rows parted by commas are of unequal length.
 * Tabs, else semicolons, else commas part columns; quotes hold what a cell holds. Commas do so where every
 * row has as many, unless they are decimal signs of one column of numbers.
 */
export function cells(text) {
  const clean = text.replaceAll("\r\n", "\n").replace(/\n+$/, "");
  if (!clean) return { grid: [], ragged: false };
  const sure = clean.includes("\t") ? "\t" : clean.includes("\n") && clean.includes(";") ? ";" : "";
  const grid = parted(clean, sure || "\t");
  if (sure || !clean.includes(",") || grid.every(([line]) => isColumn(line))) return { grid, ragged: false };
  const listed = parted(clean, ",");
  const [least, most] = [Math.min, Math.max].map((of) => of(...listed.map((row) => row.length)));
  // one line of words and commas is a name; beside a number it is a row
  const rows = listed.length > 1 || (most > 2 && listed[0].some((one) => isNumber(one)) && !isNumber(listed[0][0]));
  if (!rows || most < 2) return { grid, ragged: false };
  if (least === most) return { grid: listed, ragged: false };
  return { grid, ragged: listed.filter((row) => row.length > 1).length > listed.length / 2 && most > 2 };
}

/** Return whether a line is one number, its unit perhaps behind it, so that a comma in it parts nothing. */
const isColumn = (line) => line === "" || isNumber(line) || /^[+-]?\d+,\d+\s*[^\d,]*$/.test(line);

function parted(text, mark) {
  const rows = [[""]];
  let quoted = false;
  for (let i = 0; i < text.length; i += 1) {
    const sign = text[i];
    const row = rows.at(-1);
    if (quoted) {
      if (sign === '"' && text[i + 1] === '"') {
        row[row.length - 1] += '"';
        i += 1;
      } else if (sign === '"') quoted = false;
      else row[row.length - 1] += sign === "\n" ? " " : sign;
    } else if (sign === '"' && row.at(-1).trim() === "") {
      quoted = true;
      row[row.length - 1] = "";
    } else if (sign === mark) row.push("");
    else if (sign === "\n") rows.push([""]);
    else row[row.length - 1] += sign;
  }
  return rows.map((row) => row.map((cell) => cell.trim()));
}

/**
 * Return the decimal sign of a table, decided once from the cells that can be read in one way only, the
 * cells that it decides for, and the unit of the first of these: "" where no such cell tells, or where
 * they tell both.
 */
export function decimalOf(rows, facts) {
  const told = rows.flatMap((row) =>
    row.flatMap((text, place) =>
      numeric(facts[place]) ? [[text, toldSign(text, facts[place].unit), facts[place].unit]] : [],
    ),
  );
  const [point, comma] = [".", ","].map((sign) => told.some(([, one]) => one === sign));
  const open = told.filter(([, one]) => one === "either");
  return {
    sign: point === comma ? "" : point ? "." : ",",
    either: open.map(([text]) => text),
    unit: open[0]?.[2] ?? "",
  };
}

/** Words that people write over a column besides the names and labels of its field, in any language. */
const WORDS = {
  name: "joint jointname axis axisname axle gelenk gelenkname achse achsname achsenname bezeichnung",
  bore_min_mm: "boremin minbore borefrom boreatleast smallestbore bohrungmin minbohrung bohrungab bohrungvon kleinstebohrung",
  bore_max_mm: "boremax maxbore boreto boreatmost largestbore bohrungmax maxbohrung bohrungbis größtebohrung",
  tip_max_mm:
    "tip tipmax maxtip tipto tiplimit tipatmost tipdiameter tipdiametermax maxtipdiameter kopfkreis kopfkreismax kopfkreisbis kopfkreisgrenze",
  housing_max_mm:
    "housing housingmax maxhousing housingto housingbore housingdiameter housinginnerdiameter gehäuse gehäusemax gehäusebis gehäusebohrung gehäusedurchmesser gehäuseinnendurchmesser",
  axial_room_mm: "axialroom axiallength roomalongaxis axialerraum axialerbauraum axialraum bauraumaxial",
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
