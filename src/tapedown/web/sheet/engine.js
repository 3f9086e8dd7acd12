/** The engine in its worker. The sheet never waits for it: results come when they come, the newest of each set only. */

/** @typedef {{given: any, receive: (answer: any) => void}} Job */

/** "getting ready", "ready" or "not here" */
export let state = "getting ready";
/** @type {Worker | null} */
let worker = null;
/** @type {Map<any, Job>} */
const waiting = new Map();
/** @type {{id: number, set: any, job: Job, dropped?: boolean} | null} */
let busy = null;
let count = 0;

/** Start the worker. @param {() => void} changed hears when the state changes */
export function start(changed) {
  const become = (next) => {
    state = next;
    changed();
  };
  try {
    worker = new Worker("/sheet/engine/worker.js");
  } catch {
    become("not here");
    return;
  }
  worker.onerror = (event) => {
    event.preventDefault();
    become("not here");
  };
  worker.onmessage = ({ data }) => {
    if (data.ready) become("ready");
    else if (data.id === undefined) become("not here");
    else if (busy && String(data.id) === String(busy.id)) finish(data);
    next();
  };
}

/** @param {any} answer */
function finish(answer) {
  const { set, job, dropped } = /** @type {NonNullable<typeof busy>} */ (busy);
  busy = null;
  if (!dropped && !waiting.has(set)) job.receive(answer);
}

function next() {
  if (busy || state !== "ready" || !waiting.size) return;
  const [set, job] = /** @type {[any, Job]} */ (waiting.entries().next().value);
  waiting.delete(set);
  busy = { id: (count += 1), set, job };
  /** @type {Worker} */ (worker).postMessage({ id: busy.id, given: job.given });
}

/**
 * Ask for a set; an older question about the same set is dropped.
 * @param {any} set @param {any} given @param {Job["receive"]} receive
 */
export function reduce(set, given, receive) {
  waiting.delete(set);
  waiting.set(set, { given, receive });
  next();
}

/** Ask no more about a set, or about any: what is being worked out is not wanted. @param {any} [set] */
export function forget(set) {
  if (set) waiting.delete(set);
  else waiting.clear();
  if (busy && (!set || busy.set === set)) busy.dropped = true;
}
