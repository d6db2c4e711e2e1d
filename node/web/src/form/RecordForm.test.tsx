import { Code, ConnectError, type ConnectRouter } from '@connectrpc/connect';
import { screen, waitFor } from '@testing-library/react';
import { expect, test } from 'vitest';
import { LedgerService, type WriteRequest } from '../gen/plumbline/v1/ledger_pb';
import { NodeService } from '../gen/plumbline/v1/node_pb';
import { openPage } from '../test/page';
import { field } from '../test/records';

// A schema as the node tells it, cut down; all names are invented.
const kinds = [
  {
    name: 'prospect',
    rights: 'shared',
    fields: [
      { name: 'name', label: 'Name', type: 'text', required: true },
      { name: 'position', label: 'Position', type: 'word', choices: ['tackle', 'guard'], synonyms: [{ word: 'lt', choices: ['tackle'] }] },
      { name: 'note', label: 'Note', type: 'text', prose: true },
    ],
  },
  { name: 'factor', rights: 'director', fields: [{ name: 'name', label: 'Name', type: 'text', required: true }] },
];

interface Node {
  asked: WriteRequest[];
  /** What is wrong with a name. */
  wrong?: string;
  away?: boolean;
  role?: string;
}

const answers = (node: Node) => (router: ConnectRouter) => {
  router.rpc(NodeService.method.status, () => ({ staff: 'harrow', role: node.role ?? 'scout', person: 'mara' }));
  router.rpc(LedgerService.method.schema, () => ({ kinds }));
  router.rpc(LedgerService.method.check, ({ write }) => ({
    fields: [
      ...(write?.sets ?? []).map((set) => ({ field: set.field, text: set.text, wrong: set.field === 'name' ? (node.wrong ?? '') : '' })),
      ...(write?.sets.some((set) => set.field === 'name') ? [] : [{ field: 'name', wrong: 'a new prospect needs it' }]),
    ],
  }));
  router.rpc(LedgerService.method.write, (request) => {
    node.asked.push(request);
    if (node.away) throw new ConnectError('gone', Code.Unavailable);
    return { records: ['orrin'] };
  });
  router.rpc(LedgerService.method.get, () => ({ record: { id: 'orrin', kind: 'prospect', title: 'Orrin Vale' } }));
};

test('a prospect is entered by keyboard: a word is taken with Tab, Enter saves and opens him', async () => {
  const node: Node = { asked: [] };
  const user = openPage('/', answers(node));
  await screen.findByRole('grid');
  await user.keyboard('N');
  await screen.findByRole('heading', { name: 'A new prospect' });
  await waitFor(() => expect(document.activeElement?.id).toBe('f-name'));
  await user.keyboard('Orrin Vale{Tab}lt{Tab}{Shift>}{Tab}{/Shift}');
  expect(screen.getByRole('combobox', { name: 'Position' })).toHaveProperty('value', 'tackle');
  await user.keyboard('{Enter}');
  await screen.findByRole('heading', { level: 1, name: 'Orrin Vale' });
  expect(screen.getByText('✓ saved: prospect')).toBeTruthy();
  expect(node.asked[0]?.writes[0]).toMatchObject({ kind: 'prospect', newId: /^[a-z2-7]{26}$/.exec(node.asked[0]?.writes[0]?.newId ?? '')?.[0] });
  expect(node.asked[0]?.writes[0]?.sets.map((set) => [set.field, set.text])).toEqual([['name', 'Orrin Vale'], ['position', 'tackle']]); // prettier-ignore
  expect(localStorage.getItem('plumbline.draft/form/new/prospect')).toBeNull();
});

test('what is missing or wrong stands at its field, and nothing is written', async () => {
  const node: Node = { asked: [], wrong: 'a name is one line' };
  const user = openPage('/new/prospect', answers(node));
  const name = await screen.findByLabelText(/Name/);
  await user.keyboard('{Enter}');
  expect((await screen.findByText(/a new prospect needs it/)).closest('.form-field')?.contains(name)).toBe(true);
  expect(document.activeElement).toBe(name);
  await user.type(name, 'Orrin Vale');
  await screen.findByText(/a name is one line/);
  await user.keyboard('{Enter}');
  expect(name).toHaveProperty('ariaInvalid', 'true');
  expect(node.asked).toEqual([]);
});

test('half a record outlives a node that is away and a reload, and is then saved under the same id', async () => {
  const node: Node = { asked: [], away: true };
  const first = openPage('/new/prospect', answers(node));
  await first.type(await screen.findByLabelText(/Name/), 'Orrin Vale{Enter}');
  expect((await screen.findByText(/Not saved/)).textContent).toContain('The node doesn’t answer');
  document.body.innerHTML = '';
  node.away = false;
  const again = openPage('/new/prospect', answers(node));
  await waitFor(() => expect(screen.getByLabelText(/Name/)).toHaveProperty('value', 'Orrin Vale'));
  await again.click(screen.getByLabelText(/Name/));
  await again.keyboard('{Enter}');
  await screen.findByRole('heading', { level: 1, name: 'Orrin Vale' });
  expect(node.asked).toHaveLength(2);
  expect(node.asked[1]?.writes[0]?.newId).toBe(node.asked[0]?.writes[0]?.newId);
});

test('who may not write a kind is told why, and gets no form', async () => {
  openPage('/new/factor', answers({ asked: [] }));
  await screen.findByText('Only a director may write a factor.');
  expect(screen.queryByRole('textbox')).toBeNull();
});

test('on a prospect’s page g c means what it means everywhere', async () => {
  const user = openPage('/prospects/orrin', answers({ asked: [] }));
  await screen.findByRole('heading', { level: 1, name: 'Orrin Vale' });
  await user.keyboard('g');
  await user.keyboard('c');
  expect(await screen.findByRole('link', { name: /Conflicts/, current: 'page' })).toBeTruthy();
  expect(screen.queryByText(/Orrin Vale/)).toBeNull();
});

test('Enter pressed twice saves once, and what is typed while it saves isn’t taken for saved', async () => {
  const node: Node = { asked: [] };
  let answer: () => void = () => undefined;
  const user = openPage('/new/prospect', (router) => {
    answers(node)(router);
    router.rpc(LedgerService.method.write, async (request) => {
      node.asked.push(request);
      await new Promise<void>((resolve) => (answer = resolve));
      return { records: ['orrin'] };
    });
  });
  const name = await screen.findByLabelText(/Name/);
  await user.type(name, 'Orrin Vale');
  await user.keyboard('{Control>}{Enter}{Enter}{/Control}s');
  await waitFor(() => expect(node.asked).toHaveLength(1));
  await user.keyboard('s{Control>}{Enter}{/Control}');
  expect(name).toHaveProperty('value', 'Orrin Vale');
  answer();
  await screen.findByRole('heading', { level: 1, name: 'Orrin Vale' });
  expect(node.asked).toHaveLength(1);
});

test('what others wrote meanwhile stays in sight until it is replaced', async () => {
  const node: Node = { asked: [] };
  let place = { text: 'Mill Fork', by: 'Mara Quill' };
  let tell: () => void = () => undefined;
  const user = openPage('/records/mill', (router) => {
    answers(node)(router);
    router.rpc(LedgerService.method.schema, () => ({ kinds: [{ name: 'game', rights: 'shared', fields: [{ name: 'place', label: 'Place' }] }] }));
    router.rpc(LedgerService.method.check, () => ({}));
    router.rpc(LedgerService.method.get, () => ({ record: { id: 'mill', kind: 'game', title: 'Mill Fork', fields: [field('place', [place])] } }));
    router.rpc(LedgerService.method.watch, async function* () {
      yield { entries: 1, stateHash: 'a' };
      await new Promise<void>((resolve) => (tell = resolve));
      yield { entries: 2, stateHash: 'b', many: true };
      await new Promise(() => undefined);
    });
  });
  await user.click(await screen.findByRole('button', { name: /^Change/ }));
  await user.type(await screen.findByLabelText('Place'), ' Bowl');
  place = { text: 'Low Ridge', by: 'Tobin Ash' };
  tell();
  await screen.findByText(/changed while you were typing/);
  await user.keyboard('{Enter}');
  expect(screen.getByText(/changed while you were typing/).textContent).toContain('Low Ridge');
  expect(node.asked).toEqual([]);
  await user.keyboard('{Enter}');
  await waitFor(() =>
    expect(node.asked[0]?.writes[0]?.sets).toMatchObject([{ text: 'Mill Fork Bowl', seen: ['tobinash.1.Low Ridge'] }]),
  );
});

test('Tab takes nothing of an older answer that doesn’t fit what stands there', async () => {
  const user = openPage('/new/look', (router) => {
    answers({ asked: [] })(router);
    const game = { name: 'game', label: 'Game', type: 'reference', refersTo: 'game' };
    router.rpc(LedgerService.method.schema, () => ({ kinds: [{ name: 'look', rights: 'owned', fields: [game, { name: 'mode', label: 'How' }] }] }));
    router.rpc(LedgerService.method.list, ({ search }) =>
      search === '' ? { rows: [{ id: 'mill', title: 'Mill Fork', texts: [] }] } : new Promise(() => undefined),
    );
  });
  const game = await screen.findByRole('combobox', { name: 'Game' });
  await user.type(game, 'm');
  await screen.findByRole('option', { name: 'Mill Fork' });
  await user.clear(game);
  await user.type(game, 'Low Ridge{Tab}');
  expect(game).toHaveProperty('value', 'Low Ridge');
});

test('what was typed for a field that falls into conflict stays in sight, and isn’t saved with the rest', async () => {
  const node: Node = { asked: [] };
  const places = [{ text: 'Mill Fork', by: 'Mara Quill' }];
  let tell: () => void = () => undefined;
  const user = openPage('/records/mill', (router) => {
    answers(node)(router);
    const fields = [{ name: 'place', label: 'Place' }, { name: 'week', label: 'Week' }];
    router.rpc(LedgerService.method.schema, () => ({ kinds: [{ name: 'game', rights: 'shared', fields }] }));
    router.rpc(LedgerService.method.check, () => ({}));
    router.rpc(LedgerService.method.get, () => ({ record: { id: 'mill', kind: 'game', title: 'Mill Fork', fields: [field('place', places)] } }));
    router.rpc(LedgerService.method.watch, async function* () {
      yield { entries: 1, stateHash: 'a' };
      await new Promise<void>((resolve) => (tell = resolve));
      yield { entries: 2, stateHash: 'b', many: true };
      await new Promise(() => undefined);
    });
  });
  await user.click(await screen.findByRole('button', { name: /^Change/ }));
  await user.type(await screen.findByLabelText('Place'), ' Bowl');
  places.push({ text: 'Low Ridge', by: 'Tobin Ash' });
  tell();
  await screen.findByText(/Place is in conflict.*stays here until then/);
  expect(screen.getByLabelText('Place')).toHaveProperty('value', 'Mill Fork Bowl');
  await user.type(screen.getByLabelText('Week'), '3{Enter}');
  await waitFor(() => expect(node.asked[0]?.writes[0]?.sets.map((set) => set.field)).toEqual(['week']));
  await waitFor(() => expect(localStorage.getItem('plumbline.draft/form/mill')).toContain('Mill Fork Bowl'));
  expect(localStorage.getItem('plumbline.draft/form/mill')).not.toContain('week');
});
