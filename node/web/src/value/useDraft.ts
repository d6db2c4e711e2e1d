import { useMemo } from 'react';
import type { Field, Value } from '../gen/plumbline/v1/record_pb';
import { textOf } from './distinct';
import { useKept } from './useKept';

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

/** What is typed over a value. Only saving or dropping ends it. */
export function useDraft(about: string) {
  const [kept, keep] = useKept(about);
  return useMemo(
    () => ({
      draft: read(kept),
      type: (text: string, over: readonly Over[] = []) => keep(JSON.stringify({ text, over })),
      drop: () => keep(''),
    }),
    [kept, keep],
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
