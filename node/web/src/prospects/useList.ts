import { useQuery } from '@connectrpc/connect-query';
import { useEffect, useState } from 'react';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { columns } from './columns';
import type { Question } from './listState';

const names = columns.map((column) => column.name);

/** What is shown at once, before all of a class has come. */
const beginning = 100;
/** How long a question has to stay until all of the list is fetched: reading thousands of rows would hold up the next key. */
const rest = 250;

/** Asks for the list: its beginning first, so that it is there at once, then all of it. */
export function useList(question: Question) {
  const { search, where, sort, hidden } = question;
  const input = { kind: 'prospect', search: search.trim(), where, sort: [sort], columns: names, hidden, textsOnly: true };
  const isResting = useRest(JSON.stringify(input));
  const start = useQuery(LedgerService.method.list, { ...input, limit: beginning });
  const isLong = start.data !== undefined && start.data.total > start.data.rows.length;
  const all = useQuery(LedgerService.method.list, input, { enabled: isLong && isResting });
  const answer = isLong ? (all.data ?? start.data) : start.data;
  return { answer, error: start.error, isAsking: start.isFetching, isPart: isLong && all.data === undefined };
}

/** Whether a text has stayed the same for a while. */
function useRest(text: string): boolean {
  const [stayed, setStayed] = useState('');
  useEffect(() => {
    const timer = setTimeout(() => setStayed(text), rest);
    return () => clearTimeout(timer);
  }, [text]);
  return stayed === text;
}
