import { screen } from '@testing-library/react';
import { expect, test } from 'vitest';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { NodeService } from '../gen/plumbline/v1/node_pb';
import { openPage } from '../test/page';
import { field } from '../test/records';

test('who files an evaluation is told that something typed for it isn’t saved', async () => {
  const user = openPage('/prospects/orrin', (router) => {
    router.rpc(NodeService.method.status, () => ({ staff: 'harrow', role: 'scout', person: 'mara' }));
    router.rpc(LedgerService.method.schema, () => ({ kinds: [{ name: 'prospect', rights: 'shared' }, { name: 'evaluation', rights: 'owned' }] }));
    router.rpc(LedgerService.method.get, () => ({
      record: { id: 'orrin', kind: 'prospect', title: 'Orrin Vale' },
      related: [{ id: 'eval', kind: 'evaluation', person: 'mara', personName: 'Mara Quill', fields: [field('overall', [{ text: '6', by: 'Mara Quill' }])] }],
    }));
  });
  await user.click(await screen.findByRole('button', { name: 'file' }));
  await screen.findByRole('button', { name: 'File it' });
  expect(screen.queryByText(/isn’t saved/)).toBeNull();
  await user.keyboard('{Escape}');
  for (const draft of ['form/eval', 'eval/summary']) {
    localStorage.setItem(`plumbline.draft/${draft}`, '{"text":"late hands","over":[]}');
    await user.click(await screen.findByRole('button', { name: 'file' }));
    await screen.findByText(/You have typed something for it that isn’t saved/);
    await screen.findByRole('button', { name: 'File it without that' });
    await user.keyboard('{Escape}');
    localStorage.removeItem(`plumbline.draft/${draft}`);
  }
});
