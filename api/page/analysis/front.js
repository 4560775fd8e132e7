// The trade-off: every answer that no other beats, as two plots over ring parts and as a list.

import { scale, steps } from "../lib/axis.js";
import { button, byId, el, fill, svg, table } from "../lib/dom.js";
import { sign } from "../lib/marks.js";
import { num, sig, t } from "../lib/texts.js";
import { stepWords } from "../study/words.js";
import { AMOUNTS, isSame, pointsOf, studyOf } from "./points.js";

const BOX = { width: 520, height: 210, left: 58, right: 16, top: 14, bottom: 34 };

/** Points at one count stand so far from each other, px, where there is room. */
const APART = 14;

/** Return whether every joint has an angle target of its own. */
const ownTargets = (study) =>
  (study.robots ?? []).every((robot) =>
    (robot.joints ?? []).every((joint) => typeof joint.angle_target_arcsec === "number"),
  );

/** Wishes that may stand across; amounts only where there is money to stand upwards. */
export const ACROSS = ["ring_parts", "heads", "cutters", "material", "cost"];

/** The panel of the trade-off; `choose` is told a point, `target` a target that was moved. */
export class Front {
  constructor(choose, target) {
    this.choose = choose;
    this.target = target;
    this.job = null;
    this.points = [];
    this.chosen = -1;
    this.seen = -1;
    this.measure = "tool"; // what the reader wants below, where it can be had
    this.across = "ring_parts"; // what the reader wants across, where it can be had
  }

  show(job, study, stale) {
    const [chosen, seen] = [this.chosen, this.seen].map((index) => this.points[index]);
    const old = job === this.job;
    this.job = job;
    this.points = pointsOf(job);
    [this.chosen, this.seen] = [chosen, seen].map((point) => (old && point ? this.#indexOf(point) : -1));
    this.#offerMeasures(toolRobot(study, this.points));
    this.#offerAcross(study);
    byId("front").classList.toggle("stale", stale && this.points.length > 0);
    this.#plots(study);
    this.#list();
    this.say(this.seen >= 0 ? this.seen : this.chosen);
  }

  /** Offer the tool point where there is a target for it, and say so where there is none. */
  #offerMeasures(robot) {
    const select = byId("front-measure");
    const tool = select.options[0];
    tool.disabled = robot === null;
    tool.textContent = t(robot === null ? "front.measure.noTool" : "front.measure.tool");
    select.value = robot === null ? "error" : this.measure;
    this.robot = select.value === "tool" ? robot : null;
  }

  /** Offer what may stand across: amounts only where money stands upwards. */
  #offerAcross(study) {
    this.money = Boolean(study.shop?.prices) && this.points.some((point) => point.totals.cost);
    const select = byId("front-across");
    for (const option of select.options) option.disabled = option.value in AMOUNTS && !this.money;
    select.value = this.across in AMOUNTS && !this.money ? "ring_parts" : this.across;
    this.wish = select.value;
  }

  #plots(study) {
    const shown = this.money && this.wish !== "cost";
    const up = shown ? AMOUNTS.cost : AMOUNTS.material;
    const error = this.robot ? (point) => point.tools[this.robot] : (point) => point.largest;
    const index = (study.robots ?? []).findIndex((robot) => robot.name === this.robot);
    const limit = this.robot ? study.robots[index]?.tool_point_target_um : study.target?.angle_target_arcsec;
    const keys = this.robot ? ["robots", index, "tool_point_target_um"] : ["target", "angle_target_arcsec"];
    const held = document.activeElement?.id === "front-target";
    fill(
      byId("front-plots"),
      this.#plot(
        shown ? t("front.cost", { currency: study.shop.prices.currency ?? "" }) : t("front.material"),
        up,
        null,
      ),
      this.#plot(
        this.robot ? t("front.tool", { robot: this.robot }) : t("front.error"),
        error,
        // where every joint has a target of its own, the shared one bounds nothing
        this.robot === null && ownTargets(study) ? null : { limit: Number(limit), keys, unit: this.robot ? "µm" : "arcsec" },
      ),
    );
    if (held) byId("front-target")?.focus();
  }

  #plot(title, value, target) {
    const { width, height, left, right, top, bottom } = BOX;
    const exact = AMOUNTS[this.wish];
    const counts = this.points.map(exact ?? ((point) => point.totals[this.wish]));
    const values = this.points.map(value).filter(Number.isFinite);
    const fewest = counts.length && Math.min(...counts) > 4 ? Math.min(...counts) - 1 : 1;
    const most = Math.max(fewest + 3, ...counts);
    const all = target ? [0, ...values, ...(target.limit > 0 ? [target.limit * 1.12] : [])] : values;
    const ticks = all.length ? steps(...padded(all)) : [0, 1];
    const places = exact ? steps(...padded(counts.length ? counts : [0, 1])) : null;
    const ends = places ? [places[0], places.at(-1)] : [fewest - 0.5, most + 0.7];
    const x = scale(ends, [left, width - right]);
    const y = scale([ticks[0], ticks.at(-1)], [height - bottom, top]);
    const every = Math.ceil((most - fewest + 1) / 10);
    const whole =
      places ??
      Array.from({ length: most - fewest + 1 }, (_, index) => fewest + index).filter((one) => one % every === 0);
    const beside = (index) => (exact ? 0 : spread(counts, index, x(1) - x(0)));
    return el(
      "figure",
      {},
      el("figcaption", {}, title),
      svg(
        "svg",
        { viewBox: `0 0 ${width} ${height}`, class: "plot", role: "group", "aria-label": title },
        ticks.map((tick) =>
          svg(
            "g",
            {},
            svg("path", { d: `M${left} ${y(tick)}H${width - right}`, class: "grid" }),
            svg(
              "text",
              { x: left - 8, y: y(tick) + 4, "text-anchor": "end" },
              all.length ? num(tick, 4) : "",
            ),
          ),
        ),
        whole.map((one) =>
          svg("text", { x: x(one), y: height - bottom + 16, "text-anchor": "middle" }, num(one, 4)),
        ),
        target
          ? svg(
              "text",
              { x: (left + width - right) / 2, y: height - 3, "text-anchor": "middle", class: "axis-name" },
              t("front.signs", { axis: t(`wish.${this.wish}`) }),
            )
          : null,
        target && target.limit > 0 ? this.#line(target, x, y, ticks) : null,
        this.points.map((point, index) =>
          this.#point(point, index, x(counts[index]) + beside(index), y(value(point))),
        ),
      ),
    );
  }

  #point(point, index, x, y) {
    if (!Number.isFinite(y)) return null;
    return svg(
      "g",
      {
        class: `point${index === this.chosen ? " chosen" : ""}`,
        transform: `translate(${x.toFixed(1)} ${y.toFixed(1)})`,
        "data-point": index,
        on: {
          pointerenter: () => this.say(index),
          pointerleave: () => this.say(this.chosen),
          click: () => this.pick(index),
        },
      },
      svg("circle", { r: 13, class: "reach" }),
      sign(point.totals.cutters - 1, 6),
      svg("text", { x: 9, y: -7 }, num(index + 1)),
    );
  }

  /** The target as a line that can be dragged, or moved with the arrow keys. */
  #line({ limit, keys, unit }, x, y, ticks) {
    const { width, left, right } = BOX;
    const line = svg(
      "g",
      {
        id: "front-target",
        class: "target",
        role: "slider",
        tabindex: 0,
        "aria-orientation": "vertical",
        transform: `translate(0 ${y(limit)})`,
        "aria-label": t("front.target"),
        "aria-valuenow": limit,
        "aria-valuemin": 0,
        "aria-valuemax": ticks.at(-1),
        "aria-valuetext": `${num(limit)} ${unit}`,
      },
      svg("path", { d: `M${left} 0H${width - right}`, class: "reach" }),
      svg("path", { d: `M${left} 0H${width - right}`, class: "mark" }),
      svg("path", { d: `M${width - right - 14} 0l7-6l7 6l-7 6z`, class: "grip" }),
      svg("text", { x: left + 4, y: -6 }, t("front.targetIs", { value: `${num(limit)} ${unit}` })),
    );
    const move = (value) => this.target(keys, Number(Math.max(ticks.at(-1) / 200, value).toPrecision(3)));
    line.addEventListener("keydown", (event) => {
      const by = { ArrowUp: 0.01, ArrowDown: -0.01, PageUp: 0.1, PageDown: -0.1 }[event.key];
      if (by === undefined) return;
      event.preventDefault();
      move(limit * (1 + by));
    });
    line.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      line.focus();
      line.setPointerCapture(event.pointerId);
      const box = line.ownerSVGElement;
      const at = (e) =>
        y.value(
          Math.min(
            BOX.height - BOX.bottom,
            Math.max(0, new DOMPoint(e.clientX, e.clientY).matrixTransform(box.getScreenCTM().inverse()).y),
          ),
        );
      const words = line.querySelector("text");
      let value = limit;
      const drag = (e) => {
        value = Number(Math.max(ticks.at(-1) / 200, at(e)).toPrecision(3));
        line.setAttribute("transform", `translate(0 ${y(value)})`);
        words.textContent = t("front.targetIs", { value: `${num(value)} ${unit}` });
      };
      line.addEventListener("pointermove", drag);
      line.addEventListener(
        "pointerup",
        () => {
          line.removeEventListener("pointermove", drag);
          if (value !== limit) move(value);
        },
        { once: true },
      );
    });
    return line;
  }

  #list() {
    const money = this.points.some((point) => point.totals.cost);
    const several = new Set(this.points.flatMap((point) => point.targets)).size > 1;
    const heads = [
      t("front.point"),
      ...(several ? [t("front.targets")] : []),
      t("wish.cutters"),
      t("wish.ring_parts"),
      t("wish.heads"),
      "kg",
      ...(money ? [t("wish.cost")] : []),
      ...(this.robot ? [t("front.toolShort")] : []),
      t("front.errorShort"),
      "",
    ];
    const held = document.activeElement?.dataset?.pick;
    const rows = this.points.map((point, index) => {
      const span = [...new Set([point.targets[0], point.targets.at(-1)])].map((one) => num(one)).join(" – ");
      return [
        num(index + 1),
        ...(several ? [span] : []),
        num(point.totals.cutters),
        num(point.totals.ring_parts),
        num(point.totals.heads),
        sig(point.totals.material_kg, 4),
        ...(money ? [num(point.totals.cost.total, 2)] : []),
        ...(this.robot ? [sig(point.tools[this.robot], 5)] : []),
        sig(point.largest, 3),
        button(t("front.pick"), () => this.pick(index), {
          "aria-label": t("front.pickThis", { number: index + 1 }),
          "aria-pressed": String(index === this.chosen),
          "data-pick": index,
        }),
      ];
    });
    const list = table(t("front.list"), heads, rows, { class: "points" });
    for (const [index, row] of [...list.tBodies[0].rows].entries()) {
      row.addEventListener("pointerenter", () => this.say(index));
      row.addEventListener("focusin", () => this.say(index));
      row.dataset.point = index;
    }
    const rest = [...(this.job?.result?.notes ?? []), ...(this.job?.result?.impossible ?? []), ...(this.job?.result?.open ?? [])];
    fill(
      byId("front-open"),
      rest.map((text) => el("li", {}, text)),
    );
    fill(byId("front-list"), this.points.length ? list : el("p", { class: "quiet" }, t("front.empty")));
    if (held !== undefined) byId("front-list").querySelector(`[data-pick="${held}"]`)?.focus();
  }

  /** Say in words what the step to a point costs, and light the point up wherever it stands. */
  say(index) {
    this.seen = index;
    for (const node of byId("front").querySelectorAll("[data-point]"))
      node.classList.toggle("seen", Number(node.dataset.point) === index);
    const point = this.points[index];
    const before = this.points[index - 1];
    fill(
      byId("front-step"),
      !point
        ? t(this.points.length ? "front.hover" : "front.none")
        : before
          ? t("front.step", { from: index, to: index + 1, words: stepWords(before, point, this.robot) })
          : t(this.points.length === 1 && this.job?.result?.complete ? "front.only" : "front.first", {
              number: index + 1,
            }),
      point && index === this.chosen
        ? el("span", {}, " ", el("a", { href: "#answer" }, t("front.above")))
        : null,
    );
  }

  pick(index) {
    this.chosen = index;
    for (const node of byId("front").querySelectorAll("g.point"))
      node.classList.toggle("chosen", Number(node.dataset.point) === index);
    for (const node of byId("front").querySelectorAll("[data-pick]"))
      node.setAttribute("aria-pressed", String(Number(node.dataset.pick) === index));
    this.say(index);
    const point = this.points[index];
    this.choose(studyOf(point, this.job), { job: this.job, point });
  }

  /** Return the number that a point chosen here has now; 0 where it stands no more, or belongs to another front. */
  numberOf(chosen) {
    return chosen && chosen.job === this.job ? this.#indexOf(chosen.point) + 1 : 0;
  }

  #indexOf(seen) {
    return this.points.findIndex((point) => isSame(point, seen));
  }
}

/** Return the robot whose tool point is plotted: the first with a target for it, if any. */
function toolRobot(study, points) {
  const robot = (study.robots ?? []).find((one) => Number(one.tool_point_target_um) > 0);
  return robot && (!points.length || points.some((point) => robot.name in point.tools)) ? robot.name : null;
}

/** Points at one count stand beside each other, and nearer to it than to the next count, `room` px away. */
function spread(counts, index, room) {
  const mates = counts
    .map((count, place) => [count, place])
    .filter(([count]) => count === counts[index])
    .map(([, place]) => place);
  const apart = Math.min(APART, (0.7 * room) / Math.max(1, mates.length - 1));
  return apart * (mates.indexOf(index) - (mates.length - 1) / 2);
}

function padded(values) {
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const room = (high - low) * 0.15 || Math.abs(high) * 0.1 || 1;
  return [low === 0 ? 0 : Math.max(0, low - room), high + (low === 0 ? 0 : room)];
}
