// Making elements. Text is only ever set as text: nothing of a study can become markup.

const SVG = "http://www.w3.org/2000/svg";

/** Return an element; properties are set as properties, names with a hyphen and `role` as attributes. */
export function el(tag, given = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(given)) {
    if (value === undefined || value === null) continue;
    if (name === "on") for (const [event, act] of Object.entries(value)) node.addEventListener(event, act);
    else if (name === "class") node.className = value;
    else if (name.includes("-") || ["role", "for", "list", "lang", "colspan", "scope"].includes(name))
      node.setAttribute(name, value);
    else node[name] = value;
  }
  node.append(...children.flat().filter((child) => child !== null && child !== undefined));
  return node;
}

/** Return an SVG element with attributes. */
export function svg(tag, given = {}, ...children) {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(given)) {
    if (value === undefined || value === null) continue;
    if (name === "on") for (const [event, act] of Object.entries(value)) node.addEventListener(event, act);
    else node.setAttribute(name, value);
  }
  node.append(...children.flat().filter((child) => child !== null && child !== undefined));
  return node;
}

/** Replace what an element holds. */
export function fill(node, ...children) {
  node.replaceChildren(...children.flat().filter((child) => child !== null && child !== undefined));
  return node;
}

export const byId = (id) => document.getElementById(id);

/** Return a button. */
export function button(text, act, given = {}) {
  return el("button", { type: "button", on: { click: act }, ...given }, text);
}

/** Return a table with a caption, heads and rows of texts or nodes; the first cell of a row is its head. */
export function table(caption, heads, rows, given = {}) {
  const cell = (content, index) =>
    el(index === 0 ? "th" : "td", { scope: index === 0 ? "row" : null }, content ?? "");
  return el(
    "table",
    given,
    el("caption", {}, caption),
    el(
      "thead",
      {},
      el(
        "tr",
        {},
        heads.map((head) => el("th", { scope: "col" }, head)),
      ),
    ),
    el(
      "tbody",
      {},
      rows.map((row) => el("tr", {}, row.map(cell))),
    ),
  );
}
