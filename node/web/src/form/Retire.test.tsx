import { screen, waitFor } from '@testing-library/react';
import { expect, test } from 'vitest';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { NodeService } from '../gen/plumbline/v1/node_pb';
import { openPage } from '../test/page';
import { field } from '../test/records';

/** A game as the node tells it: as_of names how much was written to it, and since what came after that. */
function open(retired: string[]) {
  const written = ['Mill Fork'];
  let tell: () => void = () => undefined;
  const news = (since: string) => written.slice(Number(since)).map((text, i) => ({ id: `n${i}`, personName: 'Tobin Ash', title: 'Mill Fork', fields: [{ name: 'place', text }] }));
  const user = openPage('/records/mill', (router) => {
    router.rpc(NodeService.method.status, () => ({ staff: 'harrow', role: 'scout', person: 'mara' }));
    router.rpc(LedgerService.method.schema, () => ({ kinds: [{ name: 'game', rights: 'shared', fields: [{ name: 'place', label: 'Place' }] }] }));
    router.rpc(LedgerService.method.get, ({ since }) => ({
      record: { id: 'mill', kind: 'game', title: 'Mill Fork', fields: [field('place', [{ text: written.at(-1) ?? '', by: 'Tobin Ash' }])] },
      asOf: String(written.length),
      ...(since !== '' && Number(since) < written.length && { arrived: { revisions: news(since), total: news(since).length } }),
    }));
    router.rpc(LedgerService.method.watch, async function* () {
      yield { entries: 1, stateHash: 'a' };
      await new Promise<void>((resolve) => (tell = resolve));
      yield { entries: 2, stateHash: 'b', many: true };
      await new Promise(() => undefined);
    });
    router.rpc(LedgerService.method.retire, ({ asOf }) => {
      retired.push(asOf);
      return { unread: { total: news(asOf).length } };
    });
  });
  return { user, written, tell: () => tell() };
}

test('what is written while one is asked is shown before it is retired with the rest', async () => {
  const retired: string[] = [];
  const { user, written, tell } = open(retired);
  await user.click(await screen.findByRole('button', { name: 'Retire game' }));
  await screen.findByRole('button', { name: 'Retire it' });
  written.push('Low Ridge');
  tell();
  await user.click(await screen.findByRole('button', { name: 'I have read it' }));
  expect(retired).toEqual([]);
  await user.click(await screen.findByRole('button', { name: 'Retire it' }));
  await waitFor(() => expect(retired).toEqual(['2']));
  await waitFor(() => expect(screen.queryByRole('alertdialog')).toBeNull());
});

test('what arrives unheard between the question and the press isn’t covered, and is shown', async () => {
  const retired: string[] = [];
  const { user, written } = open(retired);
  await user.click(await screen.findByRole('button', { name: 'Retire game' }));
  const yes = await screen.findByRole('button', { name: 'Retire it' });
  written.push('Low Ridge');
  await user.click(yes);
  await screen.findByText(/It stays in sight, since this had just arrived/);
  expect(screen.getByText(/place: Low Ridge/)).toBeTruthy();
  await user.click(screen.getByRole('button', { name: 'I have read it' }));
  await user.click(await screen.findByRole('button', { name: 'Retire it' }));
  await waitFor(() => expect(retired).toEqual(['1', '2']));
});
