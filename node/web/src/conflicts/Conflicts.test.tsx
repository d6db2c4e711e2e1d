import { create } from '@bufbuild/protobuf';
import { Code, ConnectError, type ConnectRouter } from '@connectrpc/connect';
import { renderHook, screen, waitFor } from '@testing-library/react';
import { expect, test } from 'vitest';
import { type Conflict, ConflictSchema, LedgerService, type SettleRequest, type WriteRequest } from '../gen/plumbline/v1/ledger_pb';
import { NodeService } from '../gen/plumbline/v1/node_pb';
import { openPage } from '../test/page';
import { field, value } from '../test/records';
import { useChoices } from './choices';

const conflict = (title: string, name: string, ...texts: string[]) =>
  create(ConflictSchema, {
    about: 'field',
    record: title.slice(0, 5).toLowerCase(),
    kind: 'prospect',
    title,
    field: field(name, texts.map((text, i) => ({ text, by: ['Mara Quill', 'Tobin Ash'][i] ?? 'Nell Varr' }))),
  }); // prettier-ignore

const two = [conflict('Orrin Vale', 'jersey', '42', '24'), conflict('Fenno Daskovick', 'position', 'guard', 'center')];

function answers(settled: SettleRequest[], refusal?: ConnectError) {
  return (router: ConnectRouter) => {
    router.rpc(LedgerService.method.conflicts, () => ({ conflicts: two }));
    router.rpc(LedgerService.method.settle, (request) => {
      if (refusal) throw refusal;
      settled.push(request);
      return {};
    });
  };
}

test('one after the other is settled by a number, with all values that were shown', async () => {
  const settled: SettleRequest[] = [];
  const user = openPage('/conflicts', answers(settled));
  await screen.findByRole('heading', { name: 'Orrin Vale' });
  await user.keyboard('2');
  await screen.findByRole('heading', { name: 'Fenno Daskovick' });
  await user.keyboard('1');
  await screen.findByText('All are settled.');
  expect(settled).toMatchObject([
    { record: 'orrin', field: 'jersey', choose: 'tobinash.1.24', seen: ['maraquill.1.42', 'tobinash.1.24'] },
    { record: 'fenno', field: 'position', choose: 'maraquill.1.guard' },
  ]);
  expect(screen.getByText('✓ saved: 24')).toBeTruthy();
});

test('another value is written, and half of one is kept while going elsewhere', async () => {
  const settled: SettleRequest[] = [];
  const user = openPage('/conflicts', answers(settled));
  await screen.findByRole('heading', { name: 'Orrin Vale' });
  await user.keyboard('e4{Escape}j');
  await screen.findByRole('heading', { name: 'Fenno Daskovick' });
  await user.keyboard('k');
  await screen.findByRole('heading', { name: 'Orrin Vale' });
  expect(screen.getByRole('textbox')).toHaveProperty('value', '4');
  await user.keyboard('e{End}3{Enter}');
  await waitFor(() => expect(settled).toMatchObject([{ field: 'jersey', text: '43', choose: '' }]));
});

test('a refusal is said, and nothing moves on', async () => {
  const refusal = new ConnectError('the field has values that you haven’t seen', Code.FailedPrecondition);
  const user = openPage('/conflicts', answers([], refusal));
  await screen.findByRole('heading', { name: 'Orrin Vale' });
  await user.keyboard('1');
  expect((await screen.findByRole('alert')).textContent).toContain('values that you haven’t seen');
  expect(screen.getByRole('heading', { level: 2, name: 'Orrin Vale' })).toBeTruthy();
});

test('a value that arrives goes below the others, and a number keeps its meaning', () => {
  const before = conflict('Orrin Vale', 'jersey', '42', '24');
  const after = conflict('Orrin Vale', 'jersey', '7', '24');
  const { result, rerender } = renderHook(({ shown }) => useChoices(shown), { initialProps: { shown: before } });
  rerender({ shown: after });
  expect(result.current.all.map((one) => [one.text, one.writers.length, one.isNew])).toEqual([
    ['42', 0, false],
    ['24', 1, false],
    ['7', 1, true],
  ]);
});

test('where another value came in between, it is said and stays open', async () => {
  const still = { record: { fields: [field('jersey', [{ text: '42', by: 'Mara Quill' }, { text: '7', by: 'Nell Varr' }])] } }; // prettier-ignore
  const user = openPage('/conflicts', (router: ConnectRouter) => {
    router.rpc(LedgerService.method.conflicts, () => ({ conflicts: two }));
    router.rpc(LedgerService.method.settle, () => still);
  });
  await screen.findByRole('heading', { name: 'Orrin Vale' });
  await user.keyboard('1');
  expect((await screen.findByRole('alert')).textContent).toContain('Another value had arrived');
  expect(screen.getByRole('heading', { level: 2, name: 'Orrin Vale' })).toBeTruthy();
});

test('a value that arrived unseen is shown before anything is saved', async () => {
  const settled: SettleRequest[] = [];
  const third = conflict('Orrin Vale', 'jersey', '42', '24', '7');
  let now = two;
  let tell: () => void = () => undefined;
  const user = openPage('/conflicts', (router: ConnectRouter) => {
    router.rpc(LedgerService.method.conflicts, () => ({ conflicts: now }));
    router.rpc(LedgerService.method.watch, async function* () {
      yield { entries: 1, stateHash: 'a' };
      await new Promise<void>((resolve) => (tell = resolve));
      yield { entries: 2, stateHash: 'b', many: true };
      await new Promise(() => undefined);
    });
    router.rpc(LedgerService.method.settle, (request) => {
      settled.push(request);
      return {};
    });
  });
  await screen.findByRole('heading', { name: 'Orrin Vale' });
  now = [third, ...two.slice(1)];
  tell();
  await screen.findByText(/another value just arrived/);
  await user.keyboard('1');
  expect((await screen.findByRole('alert')).textContent).toContain('another value had just arrived');
  expect(settled).toEqual([]);
  await user.keyboard('1');
  await waitFor(() => expect(settled[0]?.seen).toEqual(['maraquill.1.42', 'tobinash.1.24', 'nellvarr.1.7']));
});

test('a torn double and a retirement in dispute are settled by a number', async () => {
  const said: unknown[] = [];
  const unread = [{ id: 'u1', personName: 'Tobin Ash', title: 'Fenno Daskovick', fields: [{ name: 'school', text: 'Salt Lick' }] }];
  let asOf = 'first';
  let tell: () => void = () => undefined;
  const user = openPage('/conflicts', (router: ConnectRouter) => {
    router.rpc(LedgerService.method.conflicts, () => ({
      conflicts: [
        { about: 'same', record: 'a', kind: 'prospect', title: 'Orrin Vale', other: 'c', otherTitle: 'Oren Vahl', said: [value({ text: 'no', by: 'Mara Quill' })] },
        { about: 'retirement', record: 'd', kind: 'prospect', title: 'Fenno Daskovick', asOf, unread: { revisions: unread, total: unread.length } },
      ],
    }));
    router.rpc(LedgerService.method.same, ({ first, second, apart, seen }) => {
      said.push({ first, second, apart, seen });
      return {};
    });
    router.rpc(LedgerService.method.keep, (request) => {
      said.push({ keep: request.record, asOf: request.asOf });
      return {};
    });
    router.rpc(LedgerService.method.watch, async function* () {
      yield { entries: 1, stateHash: 'a' };
      await new Promise<void>((resolve) => (tell = resolve));
      yield { entries: 2, stateHash: 'b', many: true };
      await new Promise(() => undefined);
    });
  });
  await screen.findByRole('button', { name: /take Oren Vahl out/ });
  expect(screen.getByText(/Mara Quill: two/)).toBeTruthy();
  await user.keyboard('2');
  await screen.findByRole('heading', { name: 'Fenno Daskovick' });
  await screen.findByText(/school: Salt Lick/);
  // What comes in while it is read is only shown by the first press.
  asOf = 'second';
  unread.push({ id: 'u2', personName: 'Nell Varr', title: 'Fenno Daskovick', fields: [{ name: 'school', text: 'Low Ridge' }] });
  tell();
  await screen.findByText(/more just came in/);
  await user.keyboard('1');
  await screen.findByText(/Nothing is saved yet: more had just come in/);
  expect(said).toHaveLength(1);
  await user.keyboard('1');
  await screen.findByText('All are settled.');
  expect(said).toEqual([{ first: 'a', second: 'c', apart: true, seen: ['maraquill.1.no'] }, { keep: 'd', asOf: 'second' }]);
});

test('what is no prospect opens on its own page, and what was typed for it goes on there', async () => {
  const asked: WriteRequest[] = [];
  const mill = { id: 'mill', kind: 'game', title: 'Mill Fork', fields: [field('place', [{ text: 'Mill Fork', by: 'Mara Quill' }])] };
  const game = create(ConflictSchema, { ...conflict('Mill Fork', 'place', 'Mill Fork', 'Low Ridge'), kind: 'game', record: 'mill' });
  const user = openPage('/conflicts', (router: ConnectRouter) => {
    router.rpc(LedgerService.method.schema, () => ({ kinds: [{ name: 'game', rights: 'shared', fields: [{ name: 'place', label: 'Place' }] }] }));
    router.rpc(NodeService.method.status, () => ({ staff: 'harrow', role: 'scout', person: 'mara' }));
    router.rpc(LedgerService.method.conflicts, () => ({ conflicts: [game] }));
    router.rpc(LedgerService.method.get, () => ({ record: mill }));
    router.rpc(LedgerService.method.write, (request) => {
      asked.push(request);
      return { records: ['mill'] };
    });
  });
  await screen.findByRole('heading', { level: 2, name: 'Mill Fork' });
  await user.keyboard('eWren{Escape}o');
  await screen.findByRole('heading', { level: 1, name: 'Mill Fork' });
  expect(screen.getByRole('link', { name: 'games' })).toBeTruthy();
  await user.click(await screen.findByRole('button', { name: 'Go on with Place' }));
  await user.keyboard('{Enter}1');
  await waitFor(() => expect(asked[0]?.writes[0]).toMatchObject({ record: 'mill', sets: [{ field: 'place', text: 'Wren' }] }));
  await waitFor(() => expect(localStorage.length).toBe(0));
});

/** A grade that stands in two ways, in an evaluation of Tobin Ash. */
const grade = (name: string, ...texts: string[]) =>
  create(ConflictSchema, {
    ...conflict('Dask Merrow, evaluated by Tobin Ash', name, ...texts),
    field: { ...field(name, texts.map((text) => ({ text, by: 'Tobin Ash' }))), label: 'Grades' },
    kind: 'evaluation',
    record: 'eval',
    person: 'tobin',
    personName: 'Tobin Ash',
  }); // prettier-ignore

/** What a laptop of a person sees of them. */
const seenBy = (person: string, conflicts: Conflict[], settled: SettleRequest[]) => (router: ConnectRouter) => {
  router.rpc(LedgerService.method.schema, () => ({ kinds: [{ name: 'prospect', rights: 'shared' }, { name: 'evaluation', rights: 'owned' }] }));
  router.rpc(NodeService.method.status, () => ({ staff: 'harrow', role: 'scout', person, conflicts: conflicts.length, conflictsOfOthers: person === 'tobin' ? 0 : 2 }));
  router.rpc(LedgerService.method.conflicts, () => ({ conflicts }));
  router.rpc(LedgerService.method.settle, (request) => {
    settled.push(request);
    return {};
  });
};

test('two grades of one evaluation are told apart by what they grade', async () => {
  const user = openPage('/conflicts', seenBy('tobin', [grade('grades.hand_use', '8', '5'), grade('grades.feet', '7', '6')], []));
  await screen.findByRole('heading', { level: 2, name: /^Dask Merrow/ });
  expect(screen.getByText('Grades: hand use', { selector: '.about b' }).parentElement?.textContent).toContain('stands there in 2 ways');
  expect(screen.getAllByRole('button', { name: /^Dask Merrow/ }).map((one) => one.textContent)).toEqual([
    'Dask Merrow, evaluated by Tobin Ash, Grades: hand use',
    'Dask Merrow, evaluated by Tobin Ash, Grades: feet',
  ]);
  await user.keyboard('j');
  await screen.findByText('Grades: feet', { selector: '.about b' });
});

test('what is somebody else’s to settle is said to be theirs, counts for nobody else, and has nothing to press', async () => {
  const settled: SettleRequest[] = [];
  const others = [grade('grades.hand_use', '8', '5'), create(ConflictSchema, { ...grade('x'), about: 'retirement', field: undefined })];
  const user = openPage('/conflicts', seenBy('mara', [...others, ...two], settled));
  await screen.findByText('2 of 2 to settle; 2 others’');
  expect(screen.getByRole('link', { name: 'Conflicts ≠ 2' })).toBeTruthy();
  // What can be settled comes first.
  await screen.findByRole('heading', { level: 2, name: 'Orrin Vale' });
  for (const one of screen.getAllByRole('button', { name: /^Dask Merrow.*Tobin Ash’s to settle$/ })) {
    await user.click(one);
    await screen.findByText('It is Tobin Ash’s to settle.');
    expect(document.querySelectorAll('.card button, .card textarea')).toHaveLength(0);
    await user.keyboard('1');
  }
  await user.click(screen.getByRole('button', { name: /^Orrin Vale/ }));
  await user.keyboard('11');
  await screen.findByText('All of yours are settled; 2 others’');
  expect(settled.map((one) => one.record)).toEqual(['orrin', 'fenno']);
});
