import { screen, waitFor } from '@testing-library/react';
import { expect, test } from 'vitest';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { NodeService } from '../gen/plumbline/v1/node_pb';
import { openPage } from '../test/page';
import { field } from '../test/records';

test('what is written on a record while one is asked is said before it is retired with the rest', async () => {
  const retired: string[] = [];
  let place = { text: 'Mill Fork', by: 'Mara Quill' };
  let tell: () => void = () => undefined;
  const user = openPage('/records/mill', (router) => {
    router.rpc(NodeService.method.status, () => ({ staff: 'harrow', role: 'scout', person: 'mara' }));
    router.rpc(LedgerService.method.schema, () => ({ kinds: [{ name: 'game', rights: 'shared', fields: [{ name: 'place', label: 'Place' }] }] }));
    router.rpc(LedgerService.method.get, () => ({ record: { id: 'mill', kind: 'game', title: 'Mill Fork', fields: [field('place', [place])] } }));
    router.rpc(LedgerService.method.watch, async function* () {
      yield { entries: 1, stateHash: 'a' };
      await new Promise<void>((resolve) => (tell = resolve));
      yield { entries: 2, stateHash: 'b', many: true };
      await new Promise(() => undefined);
    });
    router.rpc(LedgerService.method.retire, ({ record }) => {
      retired.push(record);
      return {};
    });
  });
  await user.click(await screen.findByRole('button', { name: 'Retire game' }));
  await screen.findByRole('button', { name: 'Retire it' });
  place = { text: 'Low Ridge', by: 'Tobin Ash' };
  tell();
  await user.click(await screen.findByRole('button', { name: 'I have seen what just arrived' }));
  expect(retired).toEqual([]);
  await user.click(await screen.findByRole('button', { name: 'Retire it' }));
  await waitFor(() => expect(retired).toEqual(['mill']));
});
