import { create } from '@bufbuild/protobuf';
import type { ConnectRouter } from '@connectrpc/connect';
import { screen, waitFor } from '@testing-library/react';
import { expect, test } from 'vitest';
import { ConflictSchema, LedgerService, type MergeRequest, type SettleRequest } from '../gen/plumbline/v1/ledger_pb';
import { openPage } from '../test/page';
import { field, value } from '../test/records';

const note = 'Long arms. Late hands.';
const conflict = create(ConflictSchema, {
  about: 'field',
  record: 'orrin',
  kind: 'prospect',
  title: 'Orrin Vale',
  field: field('note', [
    { text: 'Very long arms. Early hands.', by: 'Mara Quill' },
    { text: 'Long arms. Wild hands.', by: 'Tobin Ash' },
  ]),
  ancestor: value({ text: note, by: 'Nell Varr', on: '2026-10-01T09:30' }),
});
const parts = [
  { text: 'Very long', before: 'Long', versions: ['Very long', 'Long'] },
  { text: ' arms. ', before: ' arms. ' },
  { text: '', before: 'Late', versions: ['Early', 'Wild'], overlap: true },
  { text: ' hands.', before: ' hands.' },
];

function openConflict(given = conflict, merge: { text: string; before: string; versions?: string[]; overlap?: boolean }[] = parts) {
  const merged: MergeRequest[] = [];
  const settled: SettleRequest[] = [];
  const user = openPage('/conflicts', (router: ConnectRouter) => {
    router.rpc(LedgerService.method.schema, () => ({ kinds: [{ name: 'prospect', fields: [{ name: 'note', prose: true }] }] }));
    router.rpc(LedgerService.method.conflicts, () => ({ conflicts: [given] }));
    router.rpc(LedgerService.method.merge, (request) => {
      merged.push(request);
      return { parts: merge };
    });
    router.rpc(LedgerService.method.settle, (request) => {
      settled.push(request);
      return {};
    });
  });
  return { user, merged, settled };
}

test('texts stand beside what they were, and what both changed is chosen by key, edited and saved', async () => {
  const { user, merged, settled } = openConflict();
  await screen.findByText(/One place is to be chosen/);
  expect(merged).toMatchObject([{ ancestor: note, texts: ['Very long arms. Early hands.', 'Long arms. Wild hands.'] }]);
  expect(screen.getByText(note)).toBeTruthy();
  expect([...document.querySelectorAll('.sides ins')].map((one) => one.textContent)).toEqual(['Very long', 'Early', 'Wild']);
  expect([...document.querySelectorAll('.sides del')].map((one) => one.textContent)).toEqual(['Long', 'Late', 'Late']);
  await user.keyboard('m2');
  await waitFor(() => expect(screen.getByRole('textbox')).toHaveProperty('value', 'Very long arms. Wild hands.'));
  expect(document.activeElement?.className).toBe('place'); // so that the next letter is a key, and typed into nothing
  await user.keyboard('e Ask.{Enter}');
  await waitFor(() =>
    expect(settled).toMatchObject([
      {
        field: 'note',
        text: 'Very long arms. Wild hands. Ask.',
        seen: ['maraquill.1.Very long arms. Early hands.', 'tobinash.1.Long arms. Wild hands.'],
      },
    ]),
  );
  await screen.findByText('All are settled.');
  expect(localStorage.length).toBe(0);
});

test('a number keeps one text whole', async () => {
  const { user, settled } = openConflict();
  await screen.findByText(/One place is to be chosen/);
  await user.keyboard('2');
  await waitFor(() => expect(settled).toMatchObject([{ choose: 'tobinash.1.Long arms. Wild hands.' }]));
});

test('without one text before them all, it is said and nothing merges by itself', async () => {
  const { merged } = openConflict(create(ConflictSchema, { ...conflict, ancestor: undefined }));
  await screen.findByText(/no one text that all of them come from/);
  await waitFor(() => expect(merged).toHaveLength(1));
  expect(merged[0]?.ancestor).toBeUndefined();
});

test('in a place, the number of a text that left it alone settles nothing', async () => {
  const third = { text: 'Long arms. Late hands!', by: 'Nell Varr' };
  const three = create(ConflictSchema, {
    ...conflict,
    field: field('note', [...(conflict.field?.values ?? []).map(({ text, personName }) => ({ text, by: personName })), third]),
  });
  const { user, settled } = openConflict(three, [
    { text: '', before: 'Late', versions: ['Early', 'Wild', 'Late'], overlap: true },
    { text: ' hands!', before: ' hands.', versions: [' hands.', ' hands.', ' hands!'] },
  ]);
  await screen.findByText(/One place is to be chosen/);
  await user.keyboard('m3');
  expect(screen.getByText(/One place is to be chosen/)).toBeTruthy();
  await user.keyboard('1');
  await waitFor(() => expect(screen.getByRole('textbox')).toHaveProperty('value', 'Early hands!'));
  expect(settled).toEqual([]);
});
