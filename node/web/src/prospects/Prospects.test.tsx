import { create } from '@bufbuild/protobuf';
import { Code, ConnectError, type ConnectRouter } from '@connectrpc/connect';
import { screen, waitFor } from '@testing-library/react';
import { expect, test } from 'vitest';
import { LedgerService, type ListRequest, RowSchema } from '../gen/plumbline/v1/ledger_pb';
import { openPage } from '../test/page';

const class2027 = ['Alvery Hargorrow', 'Brevin Plovottle', 'Orrin Vale']; // invented
const row = (name: string) => create(RowSchema, { id: name.slice(0, 2), title: name, texts: [name, 'tackle'] });

function list(asked: ListRequest[]) {
  return (router: ConnectRouter) =>
    router.rpc(LedgerService.method.list, (request) => {
      asked.push(request);
      if (request.where.includes('armm')) throw new ConnectError('line 1, column 1: nothing is called "armm" here', Code.InvalidArgument);
      const rows = class2027.filter((name) => name.includes(request.search)).map(row);
      return { rows, total: rows.length };
    });
}

const names = () => screen.queryAllByRole('link').flatMap((link) => class2027.filter((name) => name === link.textContent));

test('search answers as one types, keys walk and open', async () => {
  const asked: ListRequest[] = [];
  const user = openPage('/', list(asked));
  await waitFor(() => expect(names()).toEqual(class2027));
  await user.keyboard('/Vale');
  await waitFor(() => expect(names()).toEqual(['Orrin Vale']));
  expect(asked.some((request) => request.search === 'Val')).toBe(true);
  await user.keyboard('{Enter}');
  expect(screen.getByRole('row', { selected: true })).toHaveProperty('id', 'row-Or');
  await user.keyboard('{Enter}');
  await waitFor(() => expect(screen.queryByRole('grid')).toBeNull());
});

test('a wrong expression is shown at its place, and the list stays', async () => {
  const user = openPage('/', list([]));
  await waitFor(() => expect(names()).toEqual(class2027));
  await user.keyboard('farmm > 3');
  const mark = await screen.findByText('armm');
  expect(mark.tagName).toBe('MARK');
  expect(screen.getByText(/nothing is called "armm" here/)).toBeTruthy();
  expect(names()).toEqual(class2027);
  // Enter leads to the list only once there is one: until then letters mend the expression.
  await user.keyboard('{Enter}');
  expect(document.activeElement).toBe(screen.getByRole('combobox'));
  await user.clear(screen.getByRole('combobox'));
  await user.keyboard('{Enter}');
  await waitFor(() => expect(document.activeElement).toBe(screen.getByRole('grid')));
});

test('names of fields are completed', async () => {
  const user = openPage('/', list([]));
  await waitFor(() => expect(names()).toEqual(class2027));
  await user.keyboard('far');
  await screen.findByRole('option', { name: /arm_source/ });
  await user.keyboard('{ArrowDown}{Tab}');
  expect(screen.getByRole('combobox')).toHaveProperty('value', 'arm_source');
});

test('heads sort, numbers highest first', async () => {
  const asked: ListRequest[] = [];
  const user = openPage('/', list(asked));
  await waitFor(() => expect(names()).toEqual(class2027));
  await user.click(screen.getByRole('button', { name: 'Overall' }));
  await waitFor(() => expect(asked.at(-1)?.sort).toEqual(['-overall']));
  await user.click(screen.getByRole('button', { name: 'Overall' }));
  await waitFor(() => expect(asked.at(-1)?.sort).toEqual(['overall']));
});

test('a list that isn’t saved doesn’t look like one that is', async () => {
  const user = openPage('/', (router) => {
    list([])(router);
    router.rpc(LedgerService.method.export, (request) => {
      if (request.where !== '') throw new ConnectError('line 1, column 1: nothing is called "armm" here', Code.InvalidArgument);
      return { data: new Uint8Array(), rows: 3 };
    });
  });
  URL.createObjectURL = () => 'blob:'; // jsdom has none
  URL.revokeObjectURL = () => undefined;
  await waitFor(() => expect(names()).toEqual(class2027));
  await user.click(screen.getByRole('button', { name: 'CSV' }));
  expect((await screen.findByText(/3 rows in/)).dataset.manner).toBe('done');
  await user.keyboard('farmm > 3');
  await screen.findByText('armm');
  await user.click(screen.getByRole('button', { name: 'CSV' }));
  expect((await screen.findByText(/Not saved: /)).dataset.manner).toBe('refused');
});
