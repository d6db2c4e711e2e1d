import type { Field, Value } from '../gen/plumbline/v1/record_pb';

/** One value, and everyone who wrote it. */
export interface Distinct {
  text: string;
  writers: Value[];
}

/** The different values of a field, the one to show first. Who wrote the same stands together. */
export function distinct(field: Field): Distinct[] {
  const found = new Map<string, Distinct>();
  for (const value of field.values) {
    const text = textOf(value);
    const same = found.get(text);
    if (same) same.writers.push(value);
    else found.set(text, { text, writers: [value] });
  }
  return [...found.values()];
}

export function textOf(value: Value): string {
  if (value.cleared) return '(cleared)';
  if (value.unreadable) return '(written by a newer Plumbline)';
  return value.text;
}
