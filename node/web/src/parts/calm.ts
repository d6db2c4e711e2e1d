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

/** What was answered, but not what is left of an earlier visit while it is asked for anew: rows would be held that are over. */
export function freshOf<Data>(answer: { data: Data | undefined; isStale: boolean; isFetchedAfterMount: boolean }): Data | undefined {
  return answer.isStale && !answer.isFetchedAfterMount ? undefined : answer.data;
}

interface Held<Row> {
  question: string;
  rows: readonly Row[];
  isPart: boolean;
}

/**
 * Holds rows still until the question is another one, or `renew` is called. Without an answer yet, the last one stays. An
 * answer may come in two parts, its beginning first: the rest goes below. Where there was nothing, nothing has to hold still.
 */
export function useCalm<Row>(
  came: readonly Row[] | undefined,
  question: string,
  key: (row: Row) => string,
  isPart = false,
): Calm<Row> & { renew: () => void } {
  const [held, setHeld] = useState<Held<Row>>({ question: '', rows: [], isPart });
  let now = held;
  if (came !== undefined && (held.question !== question || (held.rows.length === 0 && came.length > 0))) {
    now = { question, rows: came, isPart };
    setHeld(now);
  } else if (came !== undefined && held.isPart && !isPart) {
    const have = new Set(held.rows.map(key));
    now = { question, rows: [...held.rows, ...came.filter((row) => !have.has(key(row)))], isPart };
    setHeld(now);
  }
  const calm = arrange(now.rows, came ?? now.rows, key);
  return { ...calm, renew: () => came !== undefined && setHeld({ question, rows: came, isPart }) };
}
