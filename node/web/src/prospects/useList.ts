import { useQuery } from '@connectrpc/connect-query';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { columns } from './columns';
import type { Question } from './listState';

const names = columns.map((column) => column.name);

/** What is shown at once, before all of a class has come. */
const beginning = 100;

/** Asks for the list: its beginning first, so that it is there at once, then all of it. */
export function useList(question: Question) {
  const input = { kind: 'prospect', search: question.search.trim(), where: question.where, sort: [question.sort], columns: names };
  const start = useQuery(LedgerService.method.list, { ...input, limit: beginning });
  const isLong = start.data !== undefined && start.data.total > start.data.rows.length;
  const all = useQuery(LedgerService.method.list, input, { enabled: isLong });
  const answer = isLong ? (all.data ?? start.data) : start.data;
  return { answer, error: start.error, isPart: isLong && all.data === undefined };
}
