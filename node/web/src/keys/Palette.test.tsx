import type { ConnectRouter } from '@connectrpc/connect';
import { screen } from '@testing-library/react';
import { expect, test } from 'vitest';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { openPage } from '../test/page';

const answers = (router: ConnectRouter) => {
  router.rpc(LedgerService.method.list, ({ search }) => ({
    rows: search.startsWith('or') ? [{ id: 'orrin', title: 'Orrin Vale', texts: ['tackle', 'Salt Lick'] }] : [],
    total: 1,
  }));
  router.rpc(LedgerService.method.get, () => ({ record: { id: 'orrin', kind: 'prospect', title: 'Orrin Vale' } }));
};

test('a few letters lead to a prospect, also from within a text field', async () => {
  const user = openPage('/', answers);
  await screen.findByRole('grid');
  await user.keyboard('/abc{Control>}k{/Control}or');
  await screen.findByRole('option', { name: /Orrin Vale/ });
  await user.keyboard('{Enter}');
  expect(await screen.findByRole('heading', { level: 1, name: 'Orrin Vale' })).toBeTruthy();
  expect(screen.queryByRole('dialog')).toBeNull();
});

test('every command that works everywhere is in it', async () => {
  const user = openPage('/', answers);
  await screen.findByRole('grid');
  await user.keyboard('{Control>}k{/Control}laptops');
  expect(screen.getAllByRole('option').map((option) => option.textContent)).toEqual(['go to the laptopsg l']);
  await user.keyboard('{Enter}');
  expect(await screen.findByRole('link', { name: 'Laptops', current: 'page' })).toBeTruthy();
});
