import type { ConnectRouter } from '@connectrpc/connect';
import { screen, waitFor } from '@testing-library/react';
import { expect, test } from 'vitest';
import { type ImportRequest, LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { openPage } from '../test/page';

const csv = (text: string) => new File([text], 'class.csv', { type: 'text/csv' });

function answers(asked: ImportRequest[]) {
  return (router: ConnectRouter) =>
    router.rpc(LedgerService.method.import, (request) => {
      asked.push(request);
      const bad = new TextDecoder().decode(request.data).includes('6049');
      const errors = bad ? [{ line: 3, column: 'height', value: '6049', rule: 'eighths go from 0 to 7' }] : [];
      return { rows: 2, added: 5, errors, dryRun: request.dryRun };
    });
}

test('a table says what it would change, then changes it', async () => {
  const asked: ImportRequest[] = [];
  const user = openPage('/import', answers(asked));
  await user.type(await screen.findByLabelText('The list’s name'), 'class of 2027');
  await user.upload(screen.getByLabelText('File'), csv('name\nOrrin Vale\n'));
  await screen.findByRole('heading', { name: 'class.csv would change' });
  expect(asked).toMatchObject([{ kind: 'prospect', source: 'class of 2027', file: 'class.csv', dryRun: true }]);
  await user.click(screen.getByRole('button', { name: 'Import' }));
  await screen.findByRole('heading', { name: '✓ Saved' });
  expect(asked.at(-1)).toMatchObject({ dryRun: false, partial: false, source: 'class of 2027' });
});

test('a wrong cell is shown with its place and rule; only right rows can be brought in then', async () => {
  const asked: ImportRequest[] = [];
  const user = openPage('/import', answers(asked));
  await user.upload(await screen.findByLabelText('File'), csv('name,height\nOrrin Vale,6049\n'));
  await screen.findByText('eighths go from 0 to 7');
  expect(screen.getByRole('button', { name: 'Import' })).toHaveProperty('disabled', true);
  await user.click(screen.getByRole('button', { name: 'Import the rows that are right' }));
  await waitFor(() => expect(asked.at(-1)).toMatchObject({ dryRun: false, partial: true }));
});
