// What is typed into a form, and what of it is written. A draft outlives a reload and a lost node, so it holds all that
// saving needs: also the id of the new record, so that a save which was cut off is repeated and not doubled.

import type { Field, Record } from '../gen/plumbline/v1/record_pb';
import { fieldOf } from '../prospect/fields';
import type { Parts } from './readingParts';

/** What stands in one field: a text; for references the ids of what was chosen, for a reading its parts. */
export interface Typed {
  text: string;
  ids?: readonly string[];
  parts?: Parts;
}

export interface Draft {
  /** By field, such as grades.hand_use. */
  typed: { readonly [field: string]: Typed };
  /** Names the new record. */
  newId: string;
  /** The values that were on screen when typing began, by field. */
  seen: { readonly [field: string]: readonly string[] };
}

/** One field of a write. */
export interface Written {
  field: string;
  text: string;
  clear: boolean;
  seen: string[];
}

export const idsOf = (field: Field | undefined) => field?.values.map((value) => value.id) ?? [];

const alphabet = 'abcdefghijklmnopqrstuvwxyz234567';

/** 16 random bytes in base32 (RFC 4648), as the node wants them. */
export function newId(random: (bytes: Uint8Array<ArrayBuffer>) => Uint8Array = (bytes) => crypto.getRandomValues(bytes)): string {
  let bits = 0n;
  for (const byte of random(new Uint8Array(16))) bits = (bits << 8n) | BigInt(byte);
  bits <<= 2n; // 128 bits fill 26 letters of five
  let text = '';
  for (let i = 0; i < 26; i++) {
    text = alphabet[Number(bits & 31n)] + text;
    bits >>= 5n;
  }
  return text;
}

export const emptyDraft = (): Draft => ({ typed: {}, newId: newId(), seen: {} });

/** Reads a draft that was kept; one of another version of the page is none. */
export function readDraft(kept: string): Draft | undefined {
  if (kept === '') return undefined;
  try {
    const draft = JSON.parse(kept) as Draft;
    return typeof draft.typed === 'object' && typeof draft.newId === 'string' ? { ...draft, seen: draft.seen ?? {} } : undefined;
  } catch {
    return undefined;
  }
}

/** The part of a draft that is about some fields, as it is kept: empty if there is none. */
export function keptOf(draft: Draft, isMeant: (field: string) => boolean): string {
  const of = <T>(all: { readonly [field: string]: T }) => Object.fromEntries(Object.entries(all).filter(([field]) => isMeant(field)));
  const typed = of(draft.typed);
  return Object.keys(typed).length === 0 ? '' : JSON.stringify({ ...draft, typed, seen: of(draft.seen) });
}

/** The text that stands in a record, as it would be typed. */
export function standing(record: Record | undefined, field: string): Typed {
  const value = record && fieldOf(record, field)?.values[0];
  if (!value || value.cleared || value.unreadable) return { text: '' };
  return value.refersTo === '' ? { text: value.text } : { text: value.text, ids: [value.refersTo] };
}

const said = ({ text, ids }: Typed) => (ids && ids.length > 0 ? ids.join(', ') : text.trim());

/** What a draft writes: of a new record all that is filled, of one that is there what differs. */
export function writesOf(draft: Draft, fixed: Draft['typed'], record?: Record): Written[] {
  const all = Object.entries({ ...draft.typed, ...fixed });
  return all.flatMap(([field, typed]) => {
    const text = said(typed);
    if (text === said(standing(record, field))) return [];
    return [{ field, text, clear: text === '', seen: [...(draft.seen[field] ?? idsOf(record && fieldOf(record, field)))] }];
  });
}

/** The fields whose values are others now than when typing began, by name. */
export function changedMeanwhile(draft: Draft, record: Record | undefined): string[] {
  return Object.entries(draft.seen)
    .filter(([field, seen]) => record && idsOf(fieldOf(record, field)).join() !== seen.join())
    .map(([field]) => field);
}
