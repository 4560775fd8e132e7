// Calls of the API. A service that is away is waited for: every call made here may be repeated.

export const connection = new EventTarget();
let key = sessionStorage.getItem("ringset.key") ?? "";
let asked = null;
let waiting = null;

/** A problem the service answered with (RFC 9457). */
export class Problem extends Error {
  constructor(document, status) {
    super(document.detail || document.title || String(status));
    this.document = document;
    this.code = document.code ?? "";
    this.fields = document.errors ?? [];
  }
}

export const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));
const tell = (state) => connection.dispatchEvent(new CustomEvent("state", { detail: state }));

/** Wait until the service answers again; told to the reader while it lasts. */
function back() {
  waiting ??= (async () => {
    tell("away");
    for (let wait = 250; ; wait = Math.min(2000, wait * 1.5)) {
      await pause(wait);
      try {
        if ((await fetch("/readyz", { cache: "no-store" })).ok) break;
      } catch {
        /* still away */
      }
    }
    tell("back");
    waiting = null;
  })();
  return waiting;
}

/** Give the key that the service asks for. */
export function giveKey(text) {
  key = text;
  sessionStorage.setItem("ringset.key", text);
  asked?.resolve();
  asked = null;
}

function keyGiven() {
  if (!asked) {
    asked = {};
    asked.promise = new Promise((resolve) => {
      asked.resolve = resolve;
    });
    tell("key");
  }
  return asked.promise;
}

/** Call the service and return its response; waits while it is away or busy. Raises Problem. */
export async function call(path, { body, signal, headers = {}, method } = {}) {
  for (;;) {
    let response;
    try {
      response = await fetch(path, {
        method: method ?? (body === undefined ? "GET" : "POST"),
        body: body === undefined ? undefined : JSON.stringify(body),
        headers: {
          ...(body === undefined ? {} : { "Content-Type": "application/json" }),
          ...(key ? { Authorization: `Bearer ${key}` } : {}),
          ...headers,
        },
        signal,
      });
    } catch (error) {
      if (signal?.aborted) throw error;
      await back();
      continue;
    }
    if (response.ok) return response;
    if (response.status === 401) {
      await keyGiven();
      continue;
    }
    if (response.status === 503 && response.headers.get("Retry-After")) {
      await back();
      continue;
    }
    if (response.status === 429) {
      await pause(1000 * Number(response.headers.get("Retry-After") ?? 1));
      continue;
    }
    const given = await response.json().catch(() => ({ title: response.statusText }));
    throw new Problem(given, response.status);
  }
}

export const get = async (path, signal) => (await call(path, { signal })).json();
export const post = async (path, body, signal) => (await call(path, { body, signal })).json();

const ENDED = ["done", "failed", "cancelled"];

/** Yield the events of a study until it has ended; a broken stream is taken up again where it broke. */
export async function* follow(path, signal) {
  let after = "0";
  for (;;) {
    const response = await call(path, { signal, headers: { "Last-Event-ID": after } });
    try {
      for await (const event of events(response.body)) {
        after = event.id;
        yield event;
        if (ENDED.includes(event.name)) return;
      }
    } catch (error) {
      if (signal?.aborted || error instanceof Problem) throw error;
    }
    await pause(200); // the stream has ended early: the service is stopping, or was killed
  }
}

async function* events(body) {
  const reader = body.pipeThrough(new TextDecoderStream()).getReader();
  let held = "";
  try {
    for (;;) {
      const { value, done } = await reader.read();
      if (done) return;
      held += value.replaceAll("\r", "");
      const blocks = held.split("\n\n");
      held = blocks.pop();
      for (const block of blocks) {
        const found = Object.fromEntries(
          block
            .split("\n")
            .filter((line) => /^\w+: /.test(line))
            .map((line) => [line.slice(0, line.indexOf(":")), line.slice(line.indexOf(":") + 2)]),
        );
        if (found.event) yield { name: found.event, id: found.id, data: JSON.parse(found.data) };
      }
    }
  } finally {
    reader.cancel().catch(() => {});
  }
}

/** Save text or bytes as a file of the reader. */
export function save(name, data, type = "application/json") {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([data], { type }));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}
