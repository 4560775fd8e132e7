// What a spreadsheet puts on the clipboard, as rows of texts with the columns they belong to.

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

const bare = (text) =>
  text
    .toLowerCase()
    .replace(/\(.*?\)|\[.*?\]/g, "")
    .replace(/[^\p{L}\p{N}]/gu, "")
    .replace(/(mm|rpm|arcsec|um|µm)$/, "");

/** Return the facts of the columns and the rows to fill; a first row of known names says which is which. */
export function placed(grid, facts, column, all, label) {
  const known = new Map(
    all.flatMap((fact) => [
      [bare(fact.name), fact],
      [bare(label(fact)), fact],
    ]),
  );
  const named = grid[0].map((text) => known.get(bare(text)));
  if (named.filter(Boolean).length * 2 > grid[0].length) return { facts: named, rows: grid.slice(1) };
  return { facts: facts.slice(column), rows: grid };
}
