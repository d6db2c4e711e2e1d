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
  await user.upload(await screen.findByLabelText('File'), csv('name,height\n\nOrrin Vale,6049\n'));
  const cell = (await screen.findByText(/eighths go from 0 to 7/)).closest('td');
  expect(cell?.textContent).toContain('6049');
  expect(cell?.closest('tr')?.textContent).toContain('Orrin Vale');
  expect(screen.getByRole('button', { name: 'Import' })).toHaveProperty('disabled', true);
  await user.click(screen.getByRole('button', { name: 'Import the rows that are right' }));
  await waitFor(() => expect(asked.at(-1)).toMatchObject({ dryRun: false, partial: true }));
});

test('a column is given its field or left out, and every row is filled', async () => {
  const asked: ImportRequest[] = [];
  const user = openPage('/import', answers(asked));
  await user.upload(await screen.findByLabelText('File'), csv('Player,Remarks\nOrrin Vale,tall\n'));
  await user.type(await screen.findByLabelText('Field for the column Player'), 'name{Enter}');
  await waitFor(() => expect(asked.at(-1)).toMatchObject({ dryRun: true, headers: { Player: 'name' } }));
  await user.click(screen.getByLabelText('Leave out the column Remarks'));
  await waitFor(() => expect(asked.at(-1)).toMatchObject({ headers: { Player: 'name', Remarks: '-' } }));
  await user.type(screen.getByLabelText('Field that every row gets'), 'class_year');
  await user.type(screen.getByLabelText('Its value'), '2027{Enter}');
  await waitFor(() => expect(asked.at(-1)).toMatchObject({ defaults: { class_year: '2027' } }));
  await user.click(screen.getByRole('button', { name: 'Import' }));
  await waitFor(() => expect(asked.at(-1)).toMatchObject({ dryRun: false, headers: { Player: 'name', Remarks: '-' } }));
});
