// The way to the gateway: requests with the token where one is needed, answers or words of what is wrong, and the live stream.

import { t } from "./text.js";

const PREFIX = "/api/v1";
const TOKEN = "sawedge.token";
let ask = null;
let asking = null;
let isDeclined = false;

/** What the gateway answered instead of what was asked for, in words. */
export class ApiError extends Error {
  /**
   * @param {number} status The HTTP status; 0 where no answer came.
   * @param {object|null} problem The problem details, RFC 9457.
   */
  constructor(status, problem) {
    super(sentence(status, problem));
    this.status = status;
    this.problem = problem;
    /** What is wrong with which parameter: name to list of sentences. */
    this.errors = errorsOf(problem);
  }
}

/** Sets who is asked for a token: a function that gives a token or null. */
export function onTokenNeeded(handler) { ask = handler; }

/** Who would not give a token is left in peace until he goes elsewhere or tries again: what runs by itself asks him no more. */
export function askAgain() { isDeclined = false; }

/** Whether a token is kept. */
export const hasToken = () => sessionStorage.getItem(TOKEN) !== null;

/** Keeps a token for this tab only; null forgets it. */
export function setToken(token) {
  if (token)
    sessionStorage.setItem(TOKEN, token);
  else
    sessionStorage.removeItem(TOKEN);
}

/**
 * Reads from the API.
 * @param {string} path After /api/v1, with a leading slash.
 * @param {object} [query] Parameters; lists are repeated, null and undefined left out, Dates written as RFC 3339.
 * @param {AbortSignal} [signal] Ends the request.
 */
export const get = (path, query, signal) => request("GET", path, query, undefined, signal);

/** Sends something to the API as JSON. */
export const post = (path, body) => request("POST", path, undefined, body ?? {});

/** Withdraws something. */
export const del = path => request("DELETE", path);

/** The address of something to download, without a token in it. */
export const address = (path, query) => `${PREFIX}${path}${queryText(query)}`;

/** Downloads a file (with the token, which a plain link could not carry) and hands it to the browser under a name. */
export async function download(path, query, name) {
  const answer = await send("GET", path, query);
  const url = URL.createObjectURL(await answer.blob());
  const link = document.createElement("a");
  link.href = url;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 10_000);
}

/**
 * Follows an event stream until the signal ends it; connects again by itself.
 * @param {string} path The stream.
 * @param {(event: string, data: object) => void} onEvent Called for each event.
 * @param {(isOpen: boolean, error: Error|null) => void} onState Called when the connection comes and goes.
 * @param {AbortSignal} signal Ends it.
 */
export async function follow(path, onEvent, onState, signal) {
  let last = null;
  let wait = 2000;
  while (!signal.aborted) {
    let error = null;
    try {
      const answer = await send("GET", path, undefined, undefined, signal, { Accept: "text/event-stream", ...(last ? { "Last-Event-ID": last } : {}) });
      onState(true, null);
      await readEvents(answer.body, {
        event: (name, data, id) => { last = id ?? last; onEvent(name, data); },
        retry: ms => { wait = ms; },
      });
    } catch (caught) {
      error = caught;
    }
    if (signal.aborted)
      return;
    onState(false, error);
    await pause(wait * (0.75 + Math.random() / 2), signal);
  }
}

async function readEvents(body, handle) {
  const reader = body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "", name = "message", data = [], id = null;
  // The gateway says something each 15 s; a connection that is silent for longer is dead, whatever the network thinks.
  let timer = 0;
  const watch = () => { clearTimeout(timer); timer = setTimeout(() => reader.cancel(), 45_000); };
  try {
    for (watch(); ;) {
      const { value, done } = await reader.read();
      if (done)
        return;
      watch();
      const lines = (rest + value).split("\n");
      rest = lines.pop();
      for (const raw of lines) {
        const line = raw.endsWith("\r") ? raw.slice(0, -1) : raw;
        const [, field, text] = /^([^:]*):? ?(.*)$/.exec(line);
        if (line === "") {
          if (data.length)
            handle.event(name, JSON.parse(data.join("\n")), id);
          name = "message"; data = []; id = null;
        } else if (field === "event") name = text;
        else if (field === "data") data.push(text);
        else if (field === "id") id = text;
        else if (field === "retry" && /^\d+$/.test(text)) handle.retry(Number(text));
      }
    }
  } finally {
    clearTimeout(timer);
    reader.cancel().catch(() => { /* it is gone already */ });
  }
}

async function request(method, path, query, body, signal) {
  const answer = await send(method, path, query, body, signal);
  return answer.status === 204 ? null : answer.json();
}

async function send(method, path, query, body, signal, more) {
  for (;;) {
    const token = sessionStorage.getItem(TOKEN);
    const headers = { Accept: "application/json", ...more };
    if (token)
      headers.Authorization = `Bearer ${token}`;
    if (body !== undefined)
      headers["Content-Type"] = "application/json";
    let answer;
    try {
      answer = await fetch(PREFIX + path + queryText(query), { method, headers, signal, body: body === undefined ? undefined : JSON.stringify(body) });
    } catch (error) {
      if (error.name === "AbortError")
        throw error;
      throw new ApiError(0, null);
    }
    if (answer.ok)
      return answer;
    if (answer.status === 401 && ask !== null && !(isDeclined && method === "GET")) {
      // Many requests fail at once; the person is asked once, and not at all where another request has brought the token meanwhile.
      if (sessionStorage.getItem(TOKEN) === token) {
        asking ??= ask(token !== null).finally(() => { asking = null; });
        setToken(await asking);
        isDeclined = !hasToken();
      }
      if (hasToken()) {
        answer.body?.cancel().catch(() => { /* it is gone already */ });
        continue;
      }
    }
    throw new ApiError(answer.status, await answer.json().catch(() => null));
  }
}

function queryText(query) {
  const parameters = new URLSearchParams();
  for (const [name, value] of Object.entries(query ?? {})) {
    for (const one of Array.isArray(value) ? value : [value]) {
      if (one !== null && one !== undefined && one !== "")
        parameters.append(name, one instanceof Date ? one.toISOString() : String(one));
    }
  }
  const text = parameters.toString();
  return text ? `?${text}` : "";
}

function sentence(status, problem) {
  if (status === 0)
    return t("error.noAnswer");
  // The detail says already what is wrong with each parameter.
  return problem?.detail || problem?.title || t("error.status", { status });
}

// The gateway lists {parameter, detail}.
function errorsOf(problem) {
  const found = {};
  for (const { parameter, detail } of problem?.errors ?? [])
    (found[parameter] ??= []).push(detail);
  return found;
}

const pause = (ms, signal) => new Promise(resolve => {
  const timer = setTimeout(resolve, ms);
  signal.addEventListener("abort", () => { clearTimeout(timer); resolve(); }, { once: true });
});
