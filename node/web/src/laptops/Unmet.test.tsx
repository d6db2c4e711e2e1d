import { screen, waitFor } from '@testing-library/react';
import { expect, test } from 'vitest';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { NodeService } from '../gen/plumbline/v1/node_pb';
import { openPage } from '../test/page';

test('a laptop that joined and has met nobody says so on its first page, until one is met', async () => {
  let unmet = 'joined';
  let tell = () => {};
  const user = openPage('/', (router) => {
    router.rpc(NodeService.method.status, () => ({ staff: 'harrow', personName: 'Tobin Ash', role: 'scout', unmet }));
    router.rpc(LedgerService.method.list, () => ({}));
    router.rpc(LedgerService.method.watch, async function* () {
      yield { peers: true };
      await new Promise<void>((resolve) => {
        tell = resolve;
      });
      yield { peers: true };
      await new Promise(() => {});
    });
  });
  await screen.findByText(/has met no other one since it joined, so it may lack much of what the staff holds/);
  unmet = '';
  tell();
  await screen.findByText(/^Another laptop of the staff is met/);
  await user.click(screen.getByRole('link', { name: 'Doubles' }));
  await waitFor(() => expect(screen.queryByText(/is met/)).toBeNull());
});

test('after a restore it says since when, and nothing where somebody was met', async () => {
  openPage('/doubles', (router) => {
    router.rpc(NodeService.method.status, () => ({ staff: 'harrow', role: 'director', unmet: 'restored' }));
  });
  await screen.findByText(/since the backup was restored, so it may lack what is newer than that/);
});
