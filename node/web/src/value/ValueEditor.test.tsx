import { Code, ConnectError, type ConnectRouter, createRouterTransport } from '@connectrpc/connect';
import { TransportProvider } from '@connectrpc/connect-query';
import { create } from '@bufbuild/protobuf';
import { QueryClient, QueryClientProvider } from '@tanstack/react-query';
import { render, screen, waitFor } from '@testing-library/react';
import userEvent from '@testing-library/user-event';
import type { ReactNode } from 'react';
import { expect, test } from 'vitest';
import { FieldInfoSchema, LedgerService, type WriteRequest } from '../gen/plumbline/v1/ledger_pb';
import type { Field } from '../gen/plumbline/v1/record_pb';
import { field } from '../test/records';
import { ValueEditor } from './ValueEditor';

const info = create(FieldInfoSchema, { name: 'school', label: 'School' });
const salt = field('school', [{ text: 'Salt Lick', by: 'Mara Quill' }]);
const ridge = field('school', [{ text: 'Low Ridge', by: 'Tobin Ash' }]);

function edit(shown: Field | undefined, answers: (router: ConnectRouter) => void) {
  const transport = createRouterTransport(answers);
  const queries = new QueryClient();
  const around = ({ children }: { children: ReactNode }) => (
    <TransportProvider transport={transport}>
      <QueryClientProvider client={queries}>{children}</QueryClientProvider>
    </TransportProvider>
  );
  const done: boolean[] = [];
  const editor = (now: Field | undefined) => <ValueEditor record="orrin" info={info} field={now} onDone={(saved) => done.push(saved)} />;
  const { rerender, unmount } = render(editor(shown), { wrapper: around });
  return { user: userEvent.setup(), done, unmount, arrives: (now: Field) => rerender(editor(now)) };
}

const writesTo = (asked: WriteRequest[]) => (router: ConnectRouter) =>
  router.rpc(LedgerService.method.write, (request) => {
    asked.push(request);
    return { records: ['orrin'] };
  });

test('a value is written over what was shown, and no other', async () => {
  const asked: WriteRequest[] = [];
  const { user, done } = edit(salt, writesTo(asked));
  await user.keyboard('Wren Hollow{Enter}');
  await waitFor(() => expect(done).toEqual([true]));
  expect(asked[0]?.writes[0]).toMatchObject({ record: 'orrin', sets: [{ field: 'school', text: 'Wren Hollow', seen: ['maraquill.1.Salt Lick'] }] });
});

test('a value that changed meanwhile is shown before it is replaced', async () => {
  const asked: WriteRequest[] = [];
  const { user, arrives } = edit(salt, writesTo(asked));
  await user.keyboard('Wren');
  arrives(ridge);
  expect(screen.getByRole('alert').textContent).toContain('it was Salt Lick, now it is Low Ridge');
  await user.keyboard('{Enter}');
  expect(asked).toEqual([]);
  await user.keyboard('{Enter}');
  await waitFor(() => expect(asked[0]?.writes[0]?.sets[0]).toMatchObject({ text: 'Wren', seen: ['tobinash.1.Low Ridge'] }));
});

test('half of a text outlives the page; what can’t be saved stays', async () => {
  const away = (router: ConnectRouter) =>
    router.rpc(LedgerService.method.write, () => {
      throw new ConnectError('gone', Code.Unavailable);
    });
  const first = edit(salt, away);
  await first.user.keyboard('Wren Hol{Enter}');
  expect((await screen.findByText(/Not saved/)).textContent).toContain('The node doesn’t answer');
  first.unmount();
  edit(salt, away);
  expect(screen.getByRole('textbox')).toHaveProperty('value', 'Wren Hol');
});

test('nothing typed is a value cleared, where there was one; Esc leaves everything', async () => {
  const asked: WriteRequest[] = [];
  const { user, done } = edit(salt, writesTo(asked));
  await user.keyboard('x{Escape}');
  expect(done).toEqual([false]);
  expect(sessionStorage.length).toBe(0);
  await user.clear(screen.getByRole('textbox'));
  await user.keyboard('{Enter}');
  await waitFor(() => expect(asked[0]?.writes[0]?.sets[0]).toMatchObject({ clear: true, seen: ['maraquill.1.Salt Lick'] }));
});
