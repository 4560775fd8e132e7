// One question to the service, from asking to its result.

import { Problem, call, follow, get } from "./service.js";

/** A question; `told(job)` is called whenever it has moved. Names of the answer `previous` are kept. */
export class Job {
  constructor(find, study, options, told, previous = null) {
    [this.find, this.study, this.options, this.told] = [find, study, options ?? {}, told];
    this.previous = previous;
    this.state = "asking";
    this.progress = null;
    this.points = [];
    this.result = null;
    this.problem = null;
    this.id = null;
    this.began = performance.now();
    this.wanted = true; // whether the reader still wants it
    this.gone = new AbortController();
  }

  get open() {
    return ["asking", "queued", "running"].includes(this.state);
  }

  /** Ask and follow to the end; never raises. */
  async run() {
    try {
      while (await this.#once());
    } catch (error) {
      if (!this.gone.signal.aborted) this.#fail(error);
    }
    return this;
  }

  #fail(error) {
    this.state = error instanceof Problem ? "refused" : "failed";
    this.problem = error instanceof Problem ? this.#ofStudy(error.document) : { title: String(error) };
    this.told(this);
  }

  /** Return a problem whose faults of the study point into the study, also where it was sent with more. */
  #ofStudy(problem) {
    if (!this.previous) return problem;
    const errors = problem.errors?.map((one) => ({ ...one, pointer: one.pointer.replace(/^\/study(?=\/|$)/, "") }));
    return { ...problem, errors };
  }

  /** Ask once; returns whether it has to be asked again. */
  async #once() {
    const query = new URLSearchParams({ find: this.find });
    for (const [name, value] of Object.entries(this.options)) {
      for (const one of [value].flat()) query.append(name, one);
    }
    const signal = this.gone.signal;
    const body = this.previous ? { study: this.study, previous: this.previous } : this.study;
    const given = await (await call(`/v1/studies?${query}`, { body, signal })).json();
    this.id = given.id;
    if (given.state === "done" && given[this.find]) return this.#end(given, given[this.find]);
    if (!this.wanted) await this.#cancel();
    this.points = [];
    this.#move(given.state);
    try {
      for await (const event of follow(given.links.events, signal)) this.#hear(event);
      const state = await get(given.links.state, signal);
      if (state.state === "cancelled" && this.wanted) return true; // stopped by somebody else
      const result = state.state === "done" ? await get(state.links.result, signal) : null;
      return this.#end(state, result);
    } catch (error) {
      // forgotten, as by a service with another store: ask again
      if (error instanceof Problem && error.code === "not-found" && this.wanted) return true;
      throw error;
    }
  }

  #hear(event) {
    if (event.name === "progress") this.progress = event.data;
    if (event.name === "point" && event.data.totals) this.points.push(event.data);
    if (["queued", "running"].includes(event.name)) this.state = event.name;
    this.told(this);
  }

  #move(state) {
    this.state = state;
    this.told(this);
  }

  #end(given, result) {
    this.result = result;
    this.problem = given.problem ?? null;
    this.#move(given.state);
    return false;
  }

  /** Stop the work; what has come so far stays. */
  async stop() {
    this.wanted = false;
    if (this.id && this.open) await this.#cancel();
  }

  async #cancel() {
    await call(`/v1/studies/${this.id}/cancel`, { method: "POST" }).catch(() => {});
  }

  /** Lose interest: nothing more is told, and the work is stopped. */
  drop() {
    this.told = () => {};
    this.stop();
    if (this.id) this.gone.abort(); // else it is stopped as soon as its name is known
  }
}
