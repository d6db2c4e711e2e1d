import { QueryClient, QueryObserver } from '@tanstack/react-query';
import { expect, test, vi } from 'vitest';
import { refresh } from './refresh';

test('what a node that was away didn’t answer is asked again when it is back, also if nothing changed', async () => {
  const client = new QueryClient({ defaultOptions: { queries: { retry: false, staleTime: Number.POSITIVE_INFINITY } } });
  let isAway = true;
  const answer = vi.fn(() => (isAway ? Promise.reject(new Error('gone')) : Promise.resolve('Orrin Vale')));
  const observer = new QueryObserver(client, { queryKey: ['rpc', { methodName: 'Get' }], queryFn: answer });
  const stop = observer.subscribe(() => undefined);
  await vi.waitFor(() => expect(observer.getCurrentResult().isError).toBe(true));
  isAway = false;
  const nothing = { entries: 7, stateHash: 'same', records: [], many: false, peers: false };
  refresh(client, nothing);
  await vi.waitFor(() => expect(observer.getCurrentResult().data).toBe('Orrin Vale'));
  refresh(client, nothing);
  expect(answer).toHaveBeenCalledTimes(2);
  stop();
});
