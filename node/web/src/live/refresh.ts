import type { Query, QueryClient } from '@tanstack/react-query';
import type { Change } from './share';
import { type Held, idsIn, isTouched } from './touched';

/** Asks again for what a change touches and for what couldn't be answered, as while the node was away; for nothing else. */
export function refresh(client: QueryClient, change: Change): void {
  const queries = client.getQueryCache().getAll();
  const held = new Map<Query, Held>();
  const known = new Set<string>();
  for (const query of queries) {
    const ids = idsIn(query.state.data);
    held.set(query, { method: methodOf(query), ids });
    for (const id of ids) known.add(id);
  }
  void client.invalidateQueries({
    predicate: (query) => {
      const one = held.get(query);
      return query.state.status === 'error' || (one !== undefined && isTouched(one, change, known));
    },
  });
}

/** The call that a query makes, as connect-query notes it in the key. */
function methodOf(query: Query): string {
  const about = query.queryKey[1] as { methodName?: string } | undefined;
  return about?.methodName ?? '';
}

/** Reads the open records anew, and returns when that is done: what was just written is there for the next key. */
export function rereadRecords(client: QueryClient): Promise<void> {
  return client.invalidateQueries({ predicate: (query) => methodOf(query) === 'Get' });
}

const gathering = 200;

/** Gathers changes that come fast, as while catching up, so that each is answered once. The first is answered at once. */
export function gather(then: (change: Change) => void): (change: Change) => void {
  let waiting: Change | undefined;
  let busy = false;
  const flush = () => {
    if (waiting === undefined) {
      busy = false;
      return;
    }
    const change = waiting;
    waiting = undefined;
    busy = true;
    then(change);
    setTimeout(flush, gathering);
  };
  return (change) => {
    waiting = waiting === undefined ? change : join(waiting, change);
    if (!busy) flush();
  };
}

function join(a: Change, b: Change): Change {
  return { ...b, records: [...a.records, ...b.records], many: a.many || b.many, peers: a.peers || b.peers };
}
