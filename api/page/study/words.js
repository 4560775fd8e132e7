// Limits, changes and steps in words of the catalogue, from the numbers the API gives.

import { has, isLength, num, sig, t, tOr } from "../lib/texts.js";
import { fieldsAt } from "./fields.js";
import { at, keysOf } from "./study.js";

/** Return the field at the end of a path. */
export const fieldOf = (path) => path.split(".").at(-1).replaceAll('"', "");

/** Return the words of a field. */
export const fieldWords = (name) => tOr(`field.${name}`, name);

/** Return a unit as it is printed, by the end of a field's name. */
export function unitOf(name) {
  const units = { _mm: "mm", _um: "µm", _arcsec: "arcsec", _rpm: "rpm", _kg: "kg", _hz: "Hz", _us: "µs" };
  return Object.entries(units).find(([end]) => name.endsWith(end))?.[1] ?? "";
}

const told = (given) => (typeof given === "number" ? num(given) : given);

const value = (given, unit) => {
  if (isLength(given, unit)) return given; // its unit stands in it
  const text = Array.isArray(given) ? given.map(told).join(", ") : told(given);
  return unit ? `${text} ${unit}` : `${text}`;
};

/** Return a unit of the API as it is printed. */
export const unitWords = (unit) => tOr(`unit.${unit}`, unit);

/** Return the owner of a path: its joint, robot or head; empty for what all share. */
export function ownerOf(study, path) {
  const keys = keysOf(study, path) ?? [];
  if (keys[0] === "robots")
    return (keys[2] === "joints" ? at(study, keys.slice(0, 4)) : at(study, keys.slice(0, 2)))?.name ?? "";
  return keys[0] === "heads" ? keys[1] : "";
}

/** Return one limit of a blocker in words: its field and the value that stands in the study. */
export function memberWords(study, member) {
  const name = fieldOf(member.path);
  if (!has(`field.${name}`)) return member.text;
  const given = at(study, keysOf(study, member.path) ?? []);
  if (given === undefined || given === null) return withDefault(name, member);
  return `${fieldWords(name)} ${value(given, unitOf(name))}`;
}

function withDefault(name, member) {
  const first = member.path.split(".")[0];
  const place =
    {
      joints: "robots[].joints[].",
      robots: "robots[].joints[].",
      head: "head. or heads.NAME.",
      heads: "head. or heads.NAME.",
    }[first] ?? `${first}.`;
  const fact = fieldsAt(place).find((one) => one.name === name);
  const stated = fact?.default === null || fact === undefined ? "" : ` ${value(fact.default, unitOf(name))}`;
  return `${fieldWords(name)}${stated} (${t("form.default")})`;
}

/** Return one change of a relief in words. */
export function changeWords(study, change) {
  const name = fieldOf(change.path);
  const owner = ownerOf(study, change.path);
  const unit = unitOf(name);
  return `${owner ? `${owner}: ` : ""}${t("why.change", { field: fieldWords(name), value: value(change.value, unit), given: value(change.given, unit) })}`;
}

/** Return the change of an error in words. */
export const adviceWords = (change) => t(`advice.${change.kind}`, { value: num(change.value, 3) });

function addsParts(adds) {
  const parts = [];
  for (const name of ["cutters", "ring_parts", "heads"])
    if (adds[name])
      parts.push(t(`step.${name}.${adds[name] > 0 ? "more" : "fewer"}`, { count: Math.abs(adds[name]) }));
  const grams = 1e3 * adds.material_kg;
  if (Math.abs(grams) >= 5e-4)
    parts.push(t(grams > 0 ? "step.heavier" : "step.lighter", { grams: sig(Math.abs(grams), 3) }));
  if (Math.abs(adds.money ?? 0) >= 5e-3)
    parts.push(t(adds.money > 0 ? "step.dearer" : "step.cheaper", { money: num(Math.abs(adds.money), 2) }));
  return parts;
}

/** Return what is added to the totals, and saved, in words. */
export const addsWords = (adds) => addsParts(adds).join(", ") || t("step.same");

/** Return what wishes differ by, in words; each value has a wish and its difference. */
export function changesWords(values) {
  const adds = { cutters: 0, ring_parts: 0, heads: 0, material_kg: 0, money: 0 };
  for (const { wish, difference } of values)
    adds[{ material: "material_kg", cost: "money" }[wish] ?? wish] = difference;
  return addsWords(adds);
}

/** Return what a step from one point of a front to the next costs, in words. */
export function stepWords(from, to, robot) {
  const more = (name) => to.totals[name] - from.totals[name];
  const priced = to.totals.cost && from.totals.cost;
  const parts = addsParts({
    cutters: more("cutters"),
    ring_parts: more("ring_parts"),
    heads: more("heads"),
    material_kg: more("material_kg"),
    money: priced ? to.totals.cost.total - from.totals.cost.total : null,
  });
  const arrow = (key, a, b, digits) => {
    if (sig(a, digits) !== sig(b, digits))
      parts.push(t(key, { from: sig(a, digits), to: sig(b, digits), robot }));
  };
  if (robot) arrow("step.tool", from.tools[robot], to.tools[robot], 5);
  arrow("step.error", from.largest, to.largest, 3);
  return parts.length ? parts.join("; ") : t("step.same");
}

/** Limits from below (stress is told as a share of yield, from above); only asked where value and limit are equal, so that the numbers do not tell. */
const LEAST = /(?<!stress_safety)_min(_|$)|^resolution_bits$|^w(idth|ire_diameter)_mm$|^unpowered_speed_rpm$/;

/** Return whether a margin's limit is one from below. */
export function isLeast({ limit, value, allowed, margin }) {
  return margin === 0 ? LEAST.test(fieldOf(limit)) : value > allowed === margin > 0;
}

/** A limit holds a ring where less than this share of it is left. */
const HOLDS = 0.06;

/** Return why a ring cannot be otherwise: what holds it, most tightly first. */
export function reasonsOf(ring, answer) {
  const window = /^head\.(module|teeth)_m|^head\.width|^shop\.teeth/;
  const tight = ring.margins
    .filter((margin) => !window.test(margin.limit))
    .map((margin) => ({ ...margin, room: margin.margin / Math.max(Math.abs(margin.allowed), 1e-12) }))
    .sort((a, b) => a.room - b.room);
  // what is far from its limit holds nothing; the closest one is told in any case
  const words = tight
    .slice(0, 3)
    .filter((margin, index) => index === 0 || margin.room < HOLDS)
    .map((margin) => {
      const name = fieldOf(margin.limit);
      const given = {
        value: sig(margin.value, 5),
        allowed: sig(margin.allowed, 5),
        bound: t(isLeast(margin) ? "margin.least" : "margin.most", { value: sig(margin.allowed, 5) }),
        unit: unitWords(margin.unit),
        room: sig(margin.margin, 3),
      };
      return has(`hold.${name}`)
        ? t(`hold.${name}`, given)
        : t("hold.else", { ...given, field: fieldWords(name) });
    });
  const part = answer.ring_parts.find((one) => one.id === ring.ring_part);
  const others = (part?.used_on ?? []).filter((name) => name !== `${ring.robot}/${ring.joint}`);
  const several = answer.tool_points.length > 1;
  if (others.length)
    words.push(
      t("hold.shared", {
        part: ring.ring_part,
        joints: others.map((name) => (several ? name : name.slice(name.indexOf("/") + 1))).join(", "),
      }),
    );
  const point = answer.tool_points.find((one) => one.robot === ring.robot);
  if (point?.target_um && ring.tool_point_um > 0) {
    const share = point.shares[ring.joint] ?? point.shares[`${ring.robot}/${ring.joint}`] ?? 0;
    words.push(
      t("hold.tool", {
        robot: ring.robot,
        error: sig(point.error_um, 5),
        target: sig(point.target_um, 5),
        share: sig(100 * share, 2),
      }),
    );
  }
  if (point?.repeatability_target_um && ring.tool_point_repeatability_um > 0)
    words.push(
      t("hold.toolRepeats", {
        robot: ring.robot,
        scatter: sig(point.repeatability_um, 4),
        target: sig(point.repeatability_target_um, 4),
        share: sig(ring.tool_point_repeatability_um, 3),
      }),
    );
  return words;
}
