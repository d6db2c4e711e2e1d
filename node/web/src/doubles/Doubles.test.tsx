import { create } from '@bufbuild/protobuf';
import type { ConnectRouter } from '@connectrpc/connect';
import { screen, waitFor } from '@testing-library/react';
import { expect, test } from 'vitest';
import { DoubleSchema, LedgerService, type SameRequest } from '../gen/plumbline/v1/ledger_pb';
import { openPage } from '../test/page';
import { field, value } from '../test/records';

const prospect = (title: string, jersey: string) => ({
  id: title.toLowerCase(),
  kind: 'prospect',
  title,
  fields: [field('name', [{ text: title, by: 'Mara Quill' }]), field('jersey', [{ text: jersey, by: 'Mara Quill' }])],
});

const pair = create(DoubleSchema, { first: prospect('Orrin Vale', '42'), second: prospect('Orin Vale', '42'), reason: 'the names are close' });

test('a pair is joined by a key, and that is taken back by another', async () => {
  const said: SameRequest[] = [];
  const user = openPage('/doubles', (router: ConnectRouter) => {
    router.rpc(LedgerService.method.doubles, () => ({ doubles: [pair] }));
    router.rpc(LedgerService.method.same, (request) => {
      said.push(request);
      return { said: [value({ text: request.apart ? 'no' : 'yes', by: 'Mara Quill' })] };
    });
  });
  await screen.findByText('the names are close');
  expect(screen.getAllByText('≠')).toHaveLength(1); // the name; the jersey is the same
  await user.keyboard('y');
  await screen.findByText(/saved: one player/);
  await user.keyboard('n');
  await screen.findByText(/saved: two players/);
  await waitFor(() =>
    expect(said).toMatchObject([
      { first: 'orrin vale', second: 'orin vale', apart: false, seen: [] },
      { first: 'orrin vale', second: 'orin vale', apart: true, seen: ['maraquill.1.yes'] },
    ]),
  );
});

test('a pair that was answered elsewhere says so, and isn’t answered over it', async () => {
  const said: SameRequest[] = [];
  let doubles = [pair];
  let tell: () => void = () => undefined;
  const user = openPage('/doubles', (router: ConnectRouter) => {
    router.rpc(LedgerService.method.doubles, () => ({ doubles }));
    router.rpc(LedgerService.method.watch, async function* () {
      yield { entries: 1, stateHash: 'a' };
      await new Promise<void>((resolve) => (tell = resolve));
      yield { entries: 2, stateHash: 'b', many: true };
      await new Promise(() => undefined);
    });
    router.rpc(LedgerService.method.same, (request) => {
      said.push(request);
      return {};
    });
  });
  await screen.findByText('the names are close');
  doubles = [];
  tell();
  await screen.findByText(/answered elsewhere/);
  await user.keyboard('y');
  expect(screen.getByRole('button', { name: /One player/ })).toHaveProperty('disabled', true);
  expect(said).toEqual([]);
});
