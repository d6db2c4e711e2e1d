import { useMemo, useSyncExternalStore } from 'react';
import type { Field, Value } from '../gen/plumbline/v1/record_pb';
import { textOf } from './distinct';

/** A value as it stood there when somebody began to type. */
export interface Over {
  text: string;
  /** It was cleared: the text only says so. */
  isNone: boolean;
  by: string;
  /** Milliseconds since 1970. */
  written: number;
}

/** Text that is being typed, and over which values: whoever saves it has seen these. */
export interface Draft {
  text: string;
  over: readonly Over[];
}

const prefix = 'plumbline.draft/';
const listeners = new Set<() => void>();

/** One draft for each field in a browser, in all of its tabs: what is typed in one goes on in another. */
function listen(then: () => void): () => void {
  listeners.add(then);
  addEventListener('storage', then);
  return () => {
    listeners.delete(then);
    removeEventListener('storage', then);
  };
}

function put(key: string, draft: Draft | undefined) {
  if (draft === undefined) localStorage.removeItem(key);
  else localStorage.setItem(key, JSON.stringify(draft));
  for (const then of listeners) then();
}

/**
 * Text that is being typed about something. It outlives a reload, a lost node, another page and a closed tab; only saving or
 * dropping ends it.
 */
export function useDraft(about: string) {
  const key = prefix + about;
  const kept = useSyncExternalStore(listen, () => localStorage.getItem(key) ?? '');
  return useMemo(
    () => ({
      draft: read(kept),
      type: (text: string, over: readonly Over[] = []) => put(key, { text, over }),
      drop: () => put(key, undefined),
    }),
    [key, kept],
  );
}

function read(kept: string): Draft | undefined {
  if (kept === '') return undefined;
  try {
    const { text, over } = JSON.parse(kept) as Partial<Draft>;
    return { text: text ?? '', over: over ?? [] };
  } catch {
    return undefined; // not written by this page
  }
}

/** The field that a draft is about, wherever it is typed: on the record's page or where a conflict is settled. */
export const draftOf = (record: string, field: string) => `${record}/${field}`;

export const overOf = (field: Field | undefined): readonly Over[] => field?.values.map(asOver) ?? [];

const asOver = (value: Value): Over => ({
  text: textOf(value),
  isNone: value.cleared,
  by: value.personName,
  written: Number(value.written?.seconds ?? 0n) * 1000,
});

/** Whether something else stands there now than when somebody began to type. */
export function isOther(over: readonly Over[], field: Field | undefined): boolean {
  const texts = (values: readonly Over[]) => [...new Set(values.map((one) => one.text))].sort().join('\n');
  return texts(over) !== texts(overOf(field));
}
