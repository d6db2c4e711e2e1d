import { Code, ConnectError, type ConnectRouter, createRouterTransport } from '@connectrpc/connect';
import { TransportProvider } from '@connectrpc/connect-query';
import { create } from '@bufbuild/protobuf';
import { QueryClient, QueryClientProvider } from '@tanstack/react-query';
import { act, render, screen, waitFor, within } from '@testing-library/react';
import userEvent from '@testing-library/user-event';
import type { ReactNode } from 'react';
import { expect, test } from 'vitest';
import { FieldInfoSchema, LedgerService, type MergeRequest, type SettleRequest, type WriteRequest } from '../gen/plumbline/v1/ledger_pb';
import type { Field } from '../gen/plumbline/v1/record_pb';
import { field } from '../test/records';
import { ValueEditor } from './ValueEditor';

const info = create(FieldInfoSchema, { name: 'school', label: 'School' });
const salt = field('school', [{ text: 'Salt Lick', by: 'Mara Quill' }]);
const ridge = field('school', [{ text: 'Low Ridge', by: 'Tobin Ash' }]);

function edit(shown: Field | undefined, answers: (router: ConnectRouter) => void, about = info) {
  const transport = createRouterTransport(answers);
  const queries = new QueryClient();
  const around = ({ children }: { children: ReactNode }) => (
    <TransportProvider transport={transport}>
      <QueryClientProvider client={queries}>{children}</QueryClientProvider>
    </TransportProvider>
  );
  const done: boolean[] = [];
  const editor = (now: Field | undefined) => <ValueEditor record="orrin" info={about} field={now} onDone={(saved) => done.push(saved)} />;
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

test('a value that came to stand there is shown beside what was typed, and one of them is chosen', async () => {
  const asked: WriteRequest[] = [];
  const { user, arrives, done } = edit(salt, writesTo(asked));
  await user.keyboard('Wren');
  arrives(ridge);
  const choice = screen.getByRole('group', { name: 'It changed while you were typing' });
  expect(within(choice).getAllByRole('definition').map((one) => one.textContent)).toEqual([
    'Low RidgeTobin Ash, 2026-10-15 12:00',
    'Salt LickMara Quill, 2026-10-15 12:00',
  ]);
  await user.keyboard('{Enter}{Enter}{Enter}');
  expect(asked).toEqual([]);
  await user.keyboard('1');
  await waitFor(() => expect(asked[0]?.writes[0]?.sets[0]).toMatchObject({ text: 'Wren', seen: ['tobinash.1.Low Ridge'] }));
  await waitFor(() => expect(done).toEqual([true]));
  expect(localStorage.length).toBe(0);
});

test('yet another value that arrives asks anew', async () => {
  const asked: WriteRequest[] = [];
  const { user, arrives } = edit(salt, writesTo(asked));
  await user.keyboard('Wren');
  arrives(ridge);
  await user.keyboard('{Enter}');
  arrives(field('school', [{ text: 'Pine Bluffs', by: 'Nell Varr' }]));
  await user.keyboard('1');
  expect(screen.getByRole('alert').textContent).toContain('It changed once more');
  expect(asked).toEqual([]);
  await user.keyboard('1');
  await waitFor(() => expect(asked[0]?.writes[0]?.sets[0]).toMatchObject({ text: 'Wren', seen: ['nellvarr.1.Pine Bluffs'] }));
});

test('it asks anew for the mouse too, if it came while the pointer was there', async () => {
  const asked: WriteRequest[] = [];
  const { user, arrives } = edit(salt, writesTo(asked));
  await user.keyboard('Wren');
  arrives(ridge);
  const mine = screen.getByRole('button', { name: /Save what I typed/ });
  await user.hover(mine);
  arrives(field('school', [{ text: 'Pine Bluffs', by: 'Nell Varr' }]));
  await user.click(mine);
  expect(screen.getByRole('alert').textContent).toContain('It changed once more');
  expect(asked).toEqual([]);
  await user.click(mine);
  await waitFor(() => expect(asked[0]?.writes[0]?.sets[0]).toMatchObject({ text: 'Wren', seen: ['nellvarr.1.Pine Bluffs'] }));
});

test('what came to stand there may be kept, and then nothing is written', async () => {
  const { user, arrives, done } = edit(salt, () => undefined);
  await user.keyboard('Wren');
  arrives(ridge);
  await user.click(screen.getByRole('button', { name: /Keep it as it is now/ }));
  expect(done).toEqual([false]);
  expect(localStorage.length).toBe(0);
});

test('over values in conflict, saving settles with all that are shown', async () => {
  const settled: SettleRequest[] = [];
  const { user, arrives } = edit(salt, (router) =>
    router.rpc(LedgerService.method.settle, (request) => {
      settled.push(request);
      return {};
    }),
  );
  await user.keyboard('Wren');
  arrives(field('school', [{ text: 'Salt Lick', by: 'Mara Quill' }, { text: 'Low Ridge', by: 'Tobin Ash' }])); // prettier-ignore
  await user.keyboard('{Enter}1');
  await waitFor(() => expect(settled).toMatchObject([{ field: 'school', text: 'Wren', seen: ['maraquill.1.Salt Lick', 'tobinash.1.Low Ridge'] }]));
});

test('an answer that was lost is no change by somebody else', async () => {
  const asked: WriteRequest[] = [];
  const { user, arrives, done } = edit(salt, writesTo(asked));
  await user.keyboard('Wren');
  arrives(field('school', [{ text: 'Wren', by: 'Mara Quill' }]));
  expect(screen.queryByRole('group')).toBeNull();
  await user.keyboard('{Enter}');
  expect(done).toEqual([true]);
  expect(asked).toEqual([]);
});

test('a text is put together with what came to stand there, and looked at before it is saved', async () => {
  const asked: MergeRequest[] = [];
  const long = (text: string, by: string) => field('note', [{ text, by }]);
  const { user, arrives } = edit(
    long('Long arms. Late hands.', 'Mara Quill'),
    (router) =>
      router.rpc(LedgerService.method.merge, (request) => {
        asked.push(request);
        return { parts: [{ text: 'Long arms, early hands.', before: 'Long arms. Late hands.', versions: ['', ''] }] };
      }),
    create(FieldInfoSchema, { name: 'note', label: 'Note', prose: true }),
  );
  await user.clear(screen.getByRole('textbox'));
  await user.type(screen.getByRole('textbox'), 'Long arms. Early hands.');
  arrives(long('Long arms, late hands.', 'Tobin Ash'));
  await user.keyboard('{Enter}3');
  await waitFor(() => expect(screen.getByRole('textbox')).toHaveProperty('value', 'Long arms, early hands.'));
  expect(asked).toMatchObject([{ ancestor: 'Long arms. Late hands.', texts: ['Long arms. Early hands.', 'Long arms, late hands.'] }]);
  expect(screen.queryByRole('group')).toBeNull(); // it was typed over what stands there now
});

test('half of a text outlives the page; what can’t be saved stays, with what it was typed over', async () => {
  const away = (router: ConnectRouter) =>
    router.rpc(LedgerService.method.write, () => {
      throw new ConnectError('gone', Code.Unavailable);
    });
  const first = edit(salt, away);
  await first.user.keyboard('Wren Hol{Enter}');
  expect((await screen.findByText(/Not saved/)).textContent).toContain('The node doesn’t answer');
  first.unmount();
  edit(ridge, away);
  expect(screen.getByRole('textbox')).toHaveProperty('value', 'Wren Hol');
  expect(screen.getByRole('group').textContent).toContain('Salt Lick');
});

test('two tabs type one draft', async () => {
  const { user } = edit(salt, () => undefined);
  await user.keyboard('Wren');
  const key = localStorage.key(0) ?? '';
  const there = { ...(JSON.parse(localStorage.getItem(key) ?? '') as object), text: 'Wren Hollow' };
  localStorage.setItem(key, JSON.stringify(there));
  act(() => void dispatchEvent(new StorageEvent('storage', { key })));
  expect(screen.getByRole('textbox')).toHaveProperty('value', 'Wren Hollow');
});

test('nothing typed is a value cleared, where there was one; Esc keeps what was typed, and it is dropped by name alone', async () => {
  const asked: WriteRequest[] = [];
  const { user, done } = edit(salt, writesTo(asked));
  await user.keyboard('x{Escape}');
  expect(done).toEqual([false]);
  expect(localStorage.length).toBe(1);
  await user.click(screen.getByRole('button', { name: 'Drop it' }));
  expect(localStorage.length).toBe(0);
  await user.clear(screen.getByRole('textbox'));
  await user.keyboard('{Enter}');
  await waitFor(() => expect(asked[0]?.writes[0]?.sets[0]).toMatchObject({ clear: true, seen: ['maraquill.1.Salt Lick'] }));
});
