// The answer to an earlier revision, whose ring parts keep their names; kept for this tab as the study is.

import { button, byId, fill } from "../lib/dom.js";
import { t } from "../lib/texts.js";

const KEPT = "ringset.previous";
let file = read();

function read() {
  try {
    return JSON.parse(sessionStorage.getItem(KEPT));
  } catch {
    return null;
  }
}

function become(next) {
  file = next;
  try {
    if (next) sessionStorage.setItem(KEPT, JSON.stringify(next));
    else sessionStorage.removeItem(KEPT);
  } catch {
    sessionStorage.removeItem(KEPT); // too large to be kept: it holds until the page is loaded anew
  }
}

/** Return the earlier answer that was chosen; null for none. */
export const previous = () => file?.answer ?? null;

/** Forget the earlier answer: ring parts are numbered anew. */
export const forgetPrevious = () => become(null);

/** Take the text of a file as the earlier answer; returns whether it is an answer with rings. */
export function takePrevious(name, text) {
  let found = null;
  try {
    found = JSON.parse(text);
  } catch {
    /* told below */
  }
  const answer = found?.answer ?? found; // an answer may have been saved with its certificate
  const has = (list) => Array.isArray(answer?.[list]) && answer[list].length > 0;
  const taken = has("rings") && has("ring_parts");
  if (taken) become({ name, answer });
  else fill(byId("previous-said"), t("previous.not", { name }));
  return taken;
}

/** Tell whose names are kept, and what became of them in the answer that is shown; `drop` takes the file away. */
export function showPrevious(shown, drop) {
  const told = shown?.previous && shown.previous === previous() ? shown.answer.part_numbers : null;
  const kept = new Set(told?.kept);
  const parts = shown?.answer.ring_parts ?? [];
  const fresh = parts.filter((part) => !part.in_production && !kept.has(part.id)).map((part) => part.id);
  const list = (names) => (names.length ? names.join(", ") : t("previous.none"));
  const said = byId("previous-said");
  const words = file
    ? [
        t("previous.kept", { name: file.name }),
        told ? t("previous.names", { kept: list(told.kept), fresh: list(fresh), gone: list(told.retired) }) : "",
      ].join(" ")
    : "";
  if (said.dataset.words === words) return; // a file that was refused stays told
  said.dataset.words = words;
  fill(said, file ? [`${words.trim()} `, button(t("previous.drop"), drop, { id: "previous-drop" })] : []);
}
