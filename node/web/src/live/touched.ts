// Which answers a change makes stale. The node names the records that changed; an answer is asked for again only if it
// shows one of them, or is worked out from all records.

import type { Change } from './share';

/** What the cache knows of an answer: the call, and the ids that it holds. */
export interface Held {
  method: string;
  ids: ReadonlySet<string>;
}

/** Answers that never change while the node runs, or that hang on the question alone. */
const fixed = new Set(['Schema', 'Merge']);
/** Answers that hang on who is in reach, on who may what, and on entries that count for nothing: no record is named for these. */
const peers = new Set(['Status', 'Roster', 'SetAside', 'Accept']);
/** Answers about single records; all others are worked out from many. */
const single = new Set(['Get', 'History']);

/** `known` holds the ids of all answers: a record that nobody here knows is new, and may refer to what is shown. */
export function isTouched(held: Held, change: Change, known: ReadonlySet<string>): boolean {
  if (fixed.has(held.method)) return false;
  if (change.many) return true;
  if (peers.has(held.method)) return true;
  if (!single.has(held.method)) return change.records.length > 0;
  return change.records.some((id) => held.ids.has(id) || !known.has(id));
}

const recordId = /^[a-z2-7]{20,}$/;

/** Gathers the record ids in an answer, wherever they stand. */
export function idsIn(answer: unknown, into: Set<string> = new Set()): Set<string> {
  if (typeof answer === 'string') {
    if (recordId.test(answer)) into.add(answer);
  } else if (Array.isArray(answer)) {
    for (const item of answer) idsIn(item, into);
  } else if (answer !== null && typeof answer === 'object' && !ArrayBuffer.isView(answer)) {
    for (const item of Object.values(answer)) idsIn(item, into);
  }
  return into;
}
