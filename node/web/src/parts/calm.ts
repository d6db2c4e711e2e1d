// Rows that stay where they are. While somebody reads a list, or is about to click into it, what arrives changes cells
// but moves no row: rows that are new, gone or out of order wait until the reader lets them in.

import { useState } from 'react';

export interface Calm<Row> {
  rows: readonly { row: Row; gone: boolean }[];
  /** How many rows are new, gone or elsewhere. */
  waiting: number;
}

/** Keeps the order of what is shown, with the content of what came. */
export function arrange<Row>(shown: readonly Row[], came: readonly Row[], key: (row: Row) => string): Calm<Row> {
  const fresh = new Map(came.map((row) => [key(row), row]));
  const rows = shown.map((row) => {
    const now = fresh.get(key(row));
    return { row: now ?? row, gone: now === undefined };
  });
  const have = new Set(shown.map(key));
  const stay = rows.filter((one) => !one.gone);
  const common = came.filter((row) => have.has(key(row)));
  const moved = common.filter((row, i) => key(row) !== key(stay[i]?.row ?? row)).length;
  return { rows, waiting: came.length - common.length + (rows.length - stay.length) + moved };
}

/** Holds rows still until the question is another one, or `renew` is called. Without an answer yet, the last one stays. */
export function useCalm<Row>(
  came: readonly Row[] | undefined,
  question: string,
  key: (row: Row) => string,
): Calm<Row> & { renew: () => void } {
  const [held, setHeld] = useState({ question: '', rows: [] as readonly Row[] });
  let now = held;
  if (came !== undefined && held.question !== question) {
    now = { question, rows: came };
    setHeld(now);
  }
  const calm = arrange(now.rows, came ?? now.rows, key);
  return { ...calm, renew: () => came !== undefined && setHeld({ question, rows: came }) };
}
