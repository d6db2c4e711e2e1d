import { Code, ConnectError, type ConnectRouter } from '@connectrpc/connect';
import { screen, waitFor } from '@testing-library/react';
import { expect, test } from 'vitest';
import { type ImportRequest, LedgerService, Namesakes, type OutlineRequest } from '../gen/plumbline/v1/ledger_pb';
import { openPage } from '../test/page';

const csv = (text: string) => new File([text], 'class.csv', { type: 'text/csv' });

/** A node that knows name, school and height, and refuses an eighth of 9. */
function answers(asked: ImportRequest[], outlined: OutlineRequest[] = []) {
  return (router: ConnectRouter) => {
    router.rpc(LedgerService.method.outline, (request) => {
      outlined.push(request);
      const isBook = request.file.endsWith('.xlsx');
      const lines = isBook ? ['name'] : new TextDecoder().decode(request.data).trim().split('\n');
      if (lines[0] === 'PK') throw new ConnectError('late.csv: the file is damaged; save it again as .xlsx', Code.InvalidArgument);
      const heads = request.sheet === 'Notes' ? [] : (lines[0] ?? '').split(',');
      const known = ['name', 'school', 'height'];
      return {
        sheets: isBook ? ['Class', 'Notes'] : [],
        sheet: isBook ? request.sheet || 'Class' : '',
        columns: heads.map((head) => ({ head, field: known.includes(head) ? head : '', samples: ['Orrin Vale'] })),
        rows: lines.length - 1,
        fields: [...known, 'class_year'],
      };
    });
    router.rpc(LedgerService.method.import, (request) => {
      asked.push(request);
      const bad = new TextDecoder().decode(request.data).includes('6049');
      const errors = bad ? [{ line: 3, column: 'height', value: '6049', rule: 'eighths go from 0 to 7' }] : [];
      return {
        rows: 2, added: 5, errors, dryRun: request.dryRun,
        wrongRows: bad ? [{ line: 3, cells: ['Orrin Vale', '6049'] }] : [],
        records: bad ? [] : [{ line: 2, kind: 'prospect', title: 'Orrin Vale', fields: [{ name: 'jersey', before: '79', after: '73', beside: true }] }],
      }; // prettier-ignore
    });
  };
}

test('a table says what it would change, then changes it', async () => {
  const asked: ImportRequest[] = [];
  const user = openPage('/import', answers(asked));
  await user.type(await screen.findByLabelText('The list’s name'), 'class of 2027');
  await user.upload(screen.getByLabelText('File'), csv('name\nOrrin Vale\n'));
  await screen.findByRole('heading', { name: 'class.csv, 1 row: what would change' });
  expect(screen.getByText(/beside what others wrote/).closest('tr')?.textContent).toContain('79 → 73');
  expect(asked).toMatchObject([{ kind: 'prospect', source: 'class of 2027', file: 'class.csv', dryRun: true }]);
  await user.click(screen.getByRole('button', { name: 'Import the prospects' }));
  await screen.findByRole('heading', { name: '✓ Saved' });
  expect(asked.at(-1)).toMatchObject({ dryRun: false, partial: false, source: 'class of 2027' });
});

test('a wrong cell is shown with its place and rule; only right rows can be brought in then', async () => {
  const asked: ImportRequest[] = [];
  const user = openPage('/import', answers(asked));
  await user.upload(await screen.findByLabelText('File'), csv('name,height\nOrrin Vale,6049\n'));
  const cell = (await screen.findByText(/eighths go from 0 to 7/)).closest('td');
  expect(cell?.textContent).toContain('6049');
  expect(cell?.closest('tr')?.textContent).toContain('Orrin Vale');
  // What is wrong stands below: the columns, all placed, make room for it, but not under the hands of who is at work on them.
  const columns = screen.getByText('Columns').closest('details');
  expect(columns?.open).toBe(false);
  await user.click(screen.getByText('Columns'));
  await user.type(screen.getByLabelText('Field that every row gets'), 'class_year');
  await user.type(screen.getByLabelText('Its value'), '2027{Enter}');
  await waitFor(() => expect(asked.at(-1)).toMatchObject({ defaults: { class_year: '2027' } }));
  await screen.findByText(/eighths go from 0 to 7/);
  expect(columns?.open).toBe(true);
  expect(screen.getByRole('button', { name: 'Import the prospects' })).toHaveProperty('disabled', true);
  await user.click(screen.getByRole('button', { name: 'Import the rows that are right' }));
  await waitFor(() => expect(asked.at(-1)).toMatchObject({ dryRun: false, partial: true }));
});

test('a column is given its field or left out, and every row is filled', async () => {
  const asked: ImportRequest[] = [];
  const user = openPage('/import', answers(asked));
  await user.upload(await screen.findByLabelText('File'), csv('Player,Remarks\nOrrin Vale,tall\n'));
  expect((await screen.findByText(/2 columns without a field/)).closest('p')?.textContent).toContain('leave them all out');
  await user.type(screen.getByRole('combobox', { name: /^Field for the column ?Player/ }), 'na{Enter}');
  await waitFor(() => expect(asked.at(-1)).toMatchObject({ dryRun: true, headers: { Player: 'name' } }));
  await user.click(screen.getByLabelText('Leave out the column Remarks'));
  await waitFor(() => expect(asked.at(-1)).toMatchObject({ headers: { Player: 'name', Remarks: '-' } }));
  await user.type(screen.getByLabelText('Field that every row gets'), 'class_year');
  await user.type(screen.getByLabelText('Its value'), '2027{Enter}');
  await waitFor(() => expect(asked.at(-1)).toMatchObject({ defaults: { class_year: '2027' } }));
  await user.click(screen.getByRole('button', { name: 'Import the prospects' }));
  await waitFor(() => expect(asked.at(-1)).toMatchObject({ dryRun: false, headers: { Player: 'name', Remarks: '-' } }));
});

test('the sheet of a workbook is chosen, and what can’t be read at all is one error', async () => {
  const [asked, outlined]: [ImportRequest[], OutlineRequest[]] = [[], []];
  const user = openPage('/import', answers(asked, outlined));
  await user.upload(await screen.findByLabelText('File'), new File(['PK…'], 'late.xlsx'));
  const sheets = await screen.findByLabelText('Sheet');
  expect([...sheets.querySelectorAll('option')].map((one) => one.textContent)).toEqual(['Class', 'Notes']);
  await waitFor(() => expect(asked.at(-1)).toMatchObject({ sheet: 'Class', dryRun: true }));
  await user.selectOptions(sheets, 'Notes');
  await waitFor(() => expect(asked.at(-1)).toMatchObject({ sheet: 'Notes' }));
  expect(outlined.map((one) => one.sheet)).toEqual(['', 'Notes']);
  const before = asked.length;
  await user.upload(screen.getByLabelText('File'), csv('PK\n'));
  expect((await screen.findByRole('alert')).textContent).toContain('the file is damaged');
  expect(screen.getAllByRole('alert')).toHaveLength(1);
  expect(screen.queryByRole('button', { name: /^Import the/ })).toBeNull();
  expect(asked).toHaveLength(before);
});

test('what is said of a table while it is read is not lost', async () => {
  const asked: ImportRequest[] = [];
  let read: () => void = () => undefined;
  const user = openPage('/import', (router) => {
    answers(asked)(router);
    router.rpc(LedgerService.method.outline, async () => {
      await new Promise<void>((resolve) => (read = resolve));
      return { columns: [{ head: 'name', field: 'name' }], rows: 1, fields: ['name'] };
    });
  });
  await user.upload(await screen.findByLabelText('File'), csv('name\nOrrin Vale\n'));
  await user.type(screen.getByLabelText('The list’s name'), 'class of 2027');
  read();
  await waitFor(() => expect(asked.at(-1)).toMatchObject({ source: 'class of 2027', dryRun: true }));
  expect(screen.getByLabelText('The list’s name')).toHaveProperty('value', 'class of 2027');
});

test('a row with the name of a prospect who is here is asked about, for this file only', async () => {
  const asked: ImportRequest[] = [];
  const user = openPage('/import', (router) => {
    answers(asked)(router);
    router.rpc(LedgerService.method.import, (request) => {
      asked.push(request);
      if (request.namesakes !== Namesakes.UNSPECIFIED) return { rows: 2, changed: 1, unchanged: 1, dryRun: request.dryRun };
      return {
        rows: 2, skipped: 2, dryRun: true, namesakeRows: 3,
        namesakes: [{ line: 2, row: 'Orrin Vale, tackle, 2027', record: 'aiaa', standing: 'Orrin Vale, guard, Salt Lick, 2027' }],
      }; // prettier-ignore
    });
  });
  await user.upload(await screen.findByLabelText('File'), csv('name\nOrrin Vale\n'));
  await screen.findByRole('heading', { name: '≠ 3 rows have the name of a prospect who is here' });
  expect(screen.getByRole('link', { name: 'Orrin Vale, guard, Salt Lick, 2027' }).getAttribute('href')).toContain('/prospects/aiaa');
  expect(screen.getByText('And 2 rows more.')).toBeDefined();
  expect(screen.getByRole('button', { name: 'Import the prospects' })).toHaveProperty('disabled', true);
  expect(screen.getByRole('button', { name: 'Import the other rows' })).toHaveProperty('disabled', false);
  await user.click(screen.getByRole('button', { name: 'They are the same players' }));
  await screen.findByText(/are about that player/);
  expect(asked.at(-1)).toMatchObject({ namesakes: Namesakes.MATCH, dryRun: true });
  await user.click(screen.getByRole('button', { name: 'Ask again' }));
  await user.click(await screen.findByRole('button', { name: 'They are others of that name' }));
  await screen.findByText(/are other players of that name/);
  await user.upload(screen.getByLabelText('File'), csv('name\nOrrin Vale\nPim Rask\n'));
  await user.click(await screen.findByRole('button', { name: 'They are the same players' }));
  await waitFor(() => expect(screen.getByRole('button', { name: 'Import the prospects' })).toHaveProperty('disabled', false));
  await user.click(screen.getByRole('button', { name: 'Import the prospects' }));
  await screen.findByRole('heading', { name: '✓ Saved' });
  expect(asked.at(-1)).toMatchObject({ namesakes: Namesakes.MATCH, dryRun: false, partial: false });
});
