import { timestampFromDate } from '@bufbuild/protobuf/wkt';
import { Code, ConnectError, type ConnectRouter } from '@connectrpc/connect';
import { cleanup, screen, waitFor, within } from '@testing-library/react';
import { expect, test } from 'vitest';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { NodeService } from '../gen/plumbline/v1/node_pb';
import { type JoinRequest, type RevokeRequest, StaffService } from '../gen/plumbline/v1/staff_pb';
import { openPage } from '../test/page';

const members = [
  { device: 'd1', deviceName: 'desk', person: 'p1', personName: 'Mara Quill', role: 'director' },
  { device: 'd2', deviceName: 'road', person: 'p2', personName: 'Tobin Ash', role: 'scout' },
  { device: 'd3', deviceName: 'attic', person: 'p2', personName: 'Tobin Ash', role: 'scout', revoked: true },
];

function answers(role: string, revoked: RevokeRequest[] = []) {
  return (router: ConnectRouter) => {
    router.rpc(NodeService.method.status, () => ({
      staff: 'harrow', device: 'd1', deviceName: 'desk', personName: 'Mara Quill', role,
      peers: [{ device: 'd2', linked: true, address: '192.0.2.7:47123', behind: 3, ahead: 12 }],
    })); // prettier-ignore
    router.rpc(StaffService.method.roster, () => ({ members }));
    router.rpc(StaffService.method.revoke, (request) => {
      revoked.push(request);
      return { devices: [request.who] };
    });
  };
}

test('the roster says who is in reach, what is still to come, and who was revoked', async () => {
  openPage('/laptops', answers('scout'));
  const row = await screen.findByRole('row', { name: /road/ });
  expect(row.textContent).toContain('● in reach 192.0.2.7:47123312');
  expect(screen.getByRole('row', { name: /attic/ }).textContent).toContain('✕ revoked');
  expect(screen.queryByRole('button', { name: /Revoke|Invite/ })).toBeNull();
});

test('a director is asked before a laptop is revoked, and may leave it', async () => {
  const revoked: RevokeRequest[] = [];
  const user = openPage('/laptops', answers('director', revoked));
  const button = await screen.findByRole('button', { name: 'Revoke Tobin Ash’s laptop road' });
  await user.click(button);
  await screen.findByRole('alertdialog', { name: /Revoke Tobin Ash’s laptop road/ });
  await user.keyboard('{Enter}');
  expect(screen.queryByRole('alertdialog')).toBeNull();
  expect(revoked).toEqual([]);
  await user.click(button);
  await user.click(await screen.findByRole('button', { name: 'Revoke it' }));
  await waitFor(() => expect(revoked).toMatchObject([{ who: 'd2', demote: false }]));
});

test('the root is shown until a group of it is typed back, and is stored nowhere', async () => {
  const groups = ['AAAA2', 'BBBB3', 'CCCC4', 'DDDD5'];
  let staff = '';
  const user = openPage('/', (router) => {
    router.rpc(NodeService.method.status, () => ({ staff, role: staff && 'director' }));
    router.rpc(StaffService.method.roster, () => ({ members: [] }));
    router.rpc(StaffService.method.found, () => {
      staff = 'harrow';
      return { root: groups.join('-'), staff };
    });
  });
  await user.type(await screen.findByLabelText('The staff’s name'), 'Harrow County');
  await user.type(screen.getByLabelText('Your name'), 'Mara Quill{Enter}');
  await screen.findByRole('dialog', { name: 'The staff’s root' });
  for (const group of groups) expect(screen.getByText(group)).toBeTruthy();
  const field = screen.getByRole('textbox', { name: /Type group/ });
  await user.type(field, 'nothing{Enter}');
  await screen.findByText(/compare your paper/);
  await user.keyboard('{Escape}');
  const asked = Number(/group (\d)/.exec(screen.getByText(/Type group/).textContent ?? '')?.[1]);
  await user.clear(field);
  await user.type(field, `${groups[asked - 1]?.toLowerCase()}{Enter}`);
  await screen.findByRole('button', { name: 'Invite a laptop' });
  expect(document.body.textContent).not.toContain('AAAA2');
  expect(JSON.stringify([{ ...localStorage }, { ...sessionStorage }])).not.toContain('AAAA2');
});

test('entries that don’t count are listed with what they say and why; a director may let them', async () => {
  const accepted: string[] = [];
  const user = openPage('/laptops', (router) => {
    router.rpc(NodeService.method.status, () => ({ staff: 'harrow', device: 'd1', role: 'director', setAside: accepted.length > 0 ? 0 : 2 }));
    router.rpc(StaffService.method.roster, () => ({ members }));
    router.rpc(StaffService.method.accept, ({ who, asOf, dryRun }) => {
      if (dryRun) return { devices: [who] };
      accepted.push(`${who} ${asOf}`);
      return { devices: [who] };
    });
    const about = { record: 'r', personName: 'Tobin Ash', device: 'd3', deviceName: 'attic', act: 'changes', title: 'Orrin Vale', kind: 'prospect' };
    router.rpc(LedgerService.method.setAside, () => ({
      total: 2,
      asOf: 'as listed',
      revisions: [
        { ...about, id: 'a.1.b', status: 'no right', fields: [{ name: 'jersey', text: '42' }], reason: 'only a director may write a factor' },
        { ...about, id: 'a.2.b', status: 'set aside', fields: [{ name: 'school', text: 'Salt Lick' }], reason: 'it hadn’t come in when Mara Quill ended the laptop’s standing' },
      ],
    }));
  });
  await screen.findByRole('heading', { name: '2 entries kept that don’t count' });
  expect(await screen.findByRole('heading', { name: 'Tobin Ash’s laptop attic' })).toBeTruthy();
  const row = await screen.findByRole('row', { name: /Orrin Vale, prospect jersey: 42/ });
  expect(row.textContent).toContain('only a director may write a factor');
  await user.click(screen.getByRole('button', { name: 'Let it count' }));
  await screen.findByRole('alertdialog', { name: 'Let count what Tobin Ash’s laptop attic wrote?' });
  await user.keyboard('{Enter}');
  expect(accepted).toEqual([]);
  await user.click(screen.getByRole('button', { name: 'Let it count' }));
  await user.tab();
  await user.keyboard('{Enter}');
  await waitFor(() => expect(accepted).toEqual(['d3 as listed']));
  await waitFor(() => expect(screen.queryByText(/kept that/)).toBeNull());
});

test('what comes in of a laptop while one is asked is shown before it counts with the rest', async () => {
  const accepted: string[] = [];
  let tell: () => void = () => undefined;
  const of = (school: string) => ({
    id: school, record: 'r', status: 'set aside', personName: 'Tobin Ash', device: 'd3', deviceName: 'attic', title: 'Orrin Vale', kind: 'prospect',
    fields: [{ name: 'school', text: school }], reason: 'it hadn’t come in when Mara Quill ended the laptop’s standing',
  }); // prettier-ignore
  const revisions = [of('Salt Lick')];
  const user = openPage('/laptops', (router) => {
    router.rpc(NodeService.method.status, () => ({ staff: 'harrow', device: 'd1', role: 'director', setAside: revisions.length }));
    router.rpc(StaffService.method.roster, () => ({ members }));
    router.rpc(LedgerService.method.setAside, () => ({ total: revisions.length, revisions, asOf: `${revisions.length} listed` }));
    router.rpc(LedgerService.method.watch, async function* () {
      yield { entries: 1, stateHash: 'a' };
      await new Promise<void>((resolve) => (tell = resolve));
      yield { entries: 2, stateHash: 'a' }; // what counts for nothing changes no record
      await new Promise(() => undefined);
    });
    router.rpc(StaffService.method.accept, ({ asOf, dryRun }) => {
      if (dryRun) return {};
      accepted.push(asOf);
      return {};
    });
  });
  await user.click(await screen.findByRole('button', { name: 'Let it count' }));
  const question = await screen.findByRole('alertdialog');
  expect(question.textContent).toContain('The entry listed of it counts then');
  expect(question.textContent).toContain('What comes in later still counts nowhere');
  revisions.push(of('Low Ridge'));
  tell();
  expect((await within(question).findByLabelText('What just arrived')).textContent).toMatch(/^Tobin Ash.*school: Low Ridge$/);
  await user.click(within(question).getByRole('button', { name: 'I have read it' }));
  expect(accepted).toEqual([]);
  await waitFor(async () => {
    await user.click(within(question).getByRole('button', { name: 'Let it count' })); // once it says what comes with it
    expect(accepted).toEqual(['2 listed']);
  });
});

test('a restored copy says what it is and offers to join again; a revoked laptop isn’t called one', async () => {
  let device = 'd9';
  const answer = (router: ConnectRouter) => {
    router.rpc(NodeService.method.status, () => ({ staff: 'harrow', device, role: '', trouble: 'this laptop was revoked' }));
    router.rpc(StaffService.method.roster, () => ({ members }));
  };
  openPage('/laptops', answer);
  await screen.findByText(/This is a restored copy/);
  expect(screen.getByRole('heading', { name: 'Join again' })).toBeTruthy();
  expect(screen.getByRole('link', { name: 'read only' })).toBeTruthy();
  expect(screen.queryByText(/was revoked/)).toBeNull();
  cleanup();
  device = 'd3';
  openPage('/laptops', answer);
  await screen.findByText('this laptop was revoked');
  expect(screen.queryByText(/restored copy/)).toBeNull();
});

test('what came back and who was cloned is told until somebody has read it', async () => {
  let read = false;
  const user = openPage('/laptops', (router) => {
    router.rpc(NodeService.method.status, () => ({
      staff: 'harrow', deviceName: 'desk', role: 'director',
      returned: read ? [] : [4, 3].map((entries) => ({ log: `l${entries}`, entries, device: 'd2', deviceName: 'road', personName: 'Tobin Ash' })),
      damages: read ? [] : [{ kept: '/data/log.damaged-1', after: timestampFromDate(new Date(2031, 9, 4, 21, 5)) }],
      clones: read ? [] : [{ log: 'l2', device: 'd2', deviceName: 'road', personName: 'Tobin Ash', entries: [3, 1] }],
    })); // prettier-ignore
    router.rpc(StaffService.method.roster, () => ({ members }));
    router.rpc(NodeService.method.acknowledge, () => {
      read = true;
      return {};
    });
  });
  await screen.findByText(/^7 entries of this laptop’s own came back from Tobin Ash’s laptop road/);
  const damaged = await screen.findByText(/what was saved on this laptop after 2031-10-04 21:05 may be missing/);
  expect(damaged.textContent).toContain('kept at /data/log.damaged-1.');
  expect(screen.getByRole('link', { name: '▲ read this' })).toBeTruthy();
  await screen.findByText(/^The disk of Tobin Ash’s laptop road was copied.*3 entries and 1 entry since/);
  await user.click(screen.getByRole('button', { name: 'I have read it' }));
  await waitFor(() => expect(screen.queryByText(/came back/)).toBeNull());
  expect(screen.queryByRole('link', { name: '▲ read this' })).toBeNull();
});

test('who wrote alone is told what goes along before joining another staff, and may stay', async () => {
  const joined: JoinRequest[] = [];
  const user = openPage('/laptops', (router) => {
    router.rpc(NodeService.method.status, () => ({ staff: 'own', device: 'd1', deviceName: 'desk', personName: 'Mara Quill', role: 'director' }));
    router.rpc(StaffService.method.roster, () => ({ members: members.slice(0, 1) }));
    router.rpc(StaffService.method.alone, () => ({
      alone: {
        staffName: 'My own', kept: '/records/alone', left: [{ kind: 'factor', records: 2 }],
        taken: [{ kind: 'prospect', records: 200, retired: 3 }, { kind: 'same_as', records: 1 }],
      },
    })); // prettier-ignore
    router.rpc(StaffService.method.join, async function* (request) {
      joined.push(request);
      yield { step: 'done', personName: 'Mara Quill', staffName: 'Harrow County' };
    });
  });
  const open = { name: 'Join another staff with these records' };
  await user.click(await screen.findByRole('button', open));
  await user.click(screen.getByRole('button', { name: 'Stay alone' }));
  await user.click(screen.getByRole('button', open));
  expect(screen.getByText(/200 prospects \(3 retired\), 1 pair that is one or apart\./)).toBeTruthy();
  expect(screen.getByText(/2 factors, which only a director may write/)).toBeTruthy();
  expect(screen.getByText(/\/records\/alone/)).toBeTruthy();
  await user.type(screen.getByLabelText('Address'), '192.0.2.4:1');
  await user.type(screen.getByLabelText('Word'), 'heron{Enter}');
  await screen.findByText(/This laptop is Mara Quill’s, of Harrow County/);
  expect(joined).toMatchObject([{ address: '192.0.2.4:1', word: 'heron', takeAlong: true }]);
});

test('one reason for all that a laptop wrote is said once; of what isn’t listed yet nothing counts', async () => {
  const user = openPage('/laptops', (router) => {
    router.rpc(NodeService.method.status, () => ({ staff: 'harrow', device: 'd1', role: 'director', setAside: 300 }));
    router.rpc(StaffService.method.roster, () => ({ members }));
    const about = { record: 'r', personName: 'Tobin Ash', device: 'd3', deviceName: 'attic', kind: 'prospect', status: 'set aside', reason: 'it hadn’t come in' };
    router.rpc(StaffService.method.accept, () => ({}));
    router.rpc(LedgerService.method.setAside, () => ({
      total: 300,
      revisions: [
        { ...about, id: 'a', title: 'prospect f65v4hqy', fields: [{ name: 'school', text: 'Salt Lick' }] },
        { ...about, id: 'b', title: 'note on Orrin Vale: Late hands.', kind: 'note', fields: [{ name: 'text', text: 'Late hands.' }] },
      ],
    }));
  });
  await screen.findByText('It doesn’t count: it hadn’t come in.');
  expect(screen.getAllByText(/hadn’t come in/)).toHaveLength(1);
  expect(screen.getByRole('row', { name: 'no date prospect school: Salt Lick' })).toBeTruthy();
  expect(screen.getByRole('row', { name: 'no date note Late hands.' })).toBeTruthy();
  await user.click(screen.getByRole('button', { name: 'Let it count' }));
  const question = await screen.findByRole('alertdialog');
  expect(within(question).queryByRole('checkbox')).toBeNull();
  expect(question.textContent).toContain('The 2 entries listed of it count then');
  expect(question.textContent).toContain('What isn’t listed yet and what comes in later still counts nowhere');
});

test('rights that come with a laptop’s work are told, and come into force only where they are ticked', async () => {
  const accepted: boolean[] = [];
  const about = { personName: 'Tobin Ash', device: 'd3', deviceName: 'attic', status: 'set aside', reason: 'it hadn’t come in' };
  const given = { ...about, id: 'b', act: 'grant', control: true, says: "gave Wen Talbot's laptop road a director's rights" };
  const revisions = [{ ...about, id: 'a', record: 'r', title: 'Orrin Vale', kind: 'prospect', fields: [{ name: 'school', text: 'Salt Lick' }] }, given];
  const user = openPage('/laptops', (router) => {
    router.rpc(NodeService.method.status, () => ({ staff: 'harrow', device: 'd1', role: 'director', setAside: revisions.length }));
    router.rpc(StaffService.method.roster, () => ({ members }));
    router.rpc(LedgerService.method.setAside, () => ({ total: revisions.length, revisions, asOf: 'as listed' }));
    router.rpc(StaffService.method.accept, ({ dryRun, rights }) => {
      if (!dryRun) accepted.push(rights);
      if (!dryRun) revisions.splice(0, revisions.length, given);
      return { devices: ['d3'], rights: ["Wen Talbot's laptop road gets a director's rights"] };
    });
  });
  await screen.findByRole('row', { name: 'no date the staff gave Wen Talbot’s laptop road a director’s rights' });
  await user.click(screen.getByRole('button', { name: 'Let it count' }));
  let question = within(await screen.findByRole('alertdialog'));
  question.getByText(/^The entry listed of it counts then/);
  question.getByText('Wen Talbot’s laptop road gets a director’s rights');
  await user.click(question.getByRole('button', { name: 'Let it count' }));
  await screen.findByText(/its work counts; rights are as they were/);

  await waitFor(() => expect(screen.queryByText('Orrin Vale, prospect')).toBeNull());
  await user.click(screen.getByRole('button', { name: 'Let it count' }));
  question = within(await screen.findByRole('alertdialog'));
  question.getByText(/^Nothing that is listed of it is work/);
  expect(question.getByRole('button', { name: 'Let it count' }).hasAttribute('disabled')).toBe(true);
  await user.click(question.getByRole('checkbox', { name: 'Let this come into force too, on every laptop' }));
  await user.click(question.getByRole('button', { name: 'Let it count' }));
  await waitFor(() => expect(accepted).toEqual([false, true]));
});

test('whoever mistypes the word keeps the address, and goes on at the word', async () => {
  const joined: string[] = [];
  const user = openPage('/laptops', (router) => {
    router.rpc(NodeService.method.status, () => ({}));
    router.rpc(StaffService.method.join, async function* ({ address, word }) {
      joined.push(`${address} ${word}`);
      if (word !== 'heron') throw new ConnectError('the inviting laptop doesn’t answer: check the address and the word', Code.Aborted);
      yield { step: 'done', personName: 'Tobin Ash', staffName: 'Harrow County' };
    });
  });
  const join = within(await screen.findByRole('region', { name: 'Join a staff' }));
  await user.type(join.getByLabelText('Address'), '192.0.2.4:1');
  await user.type(join.getByLabelText('Word'), 'herron{Enter}');
  await join.findByText(/^Not joined: .*check the address and the word/);
  expect(document.activeElement).toBe(join.getByLabelText('Word'));
  await user.clear(join.getByLabelText('Word'));
  await user.type(join.getByLabelText('Word'), 'heron{Enter}');
  await join.findByText(/This laptop is Tobin Ash’s/);
  expect(joined).toEqual(['192.0.2.4:1 herron', '192.0.2.4:1 heron']);
});

test('an invitation that is open says whom it is for, and a press too many doesn’t stop it', async () => {
  let isStopped = false;
  const user = openPage('/laptops', (router) => {
    answers('director')(router);
    router.rpc(StaffService.method.invite, async function* (_, { signal }) {
      signal.addEventListener('abort', () => (isStopped = true));
      yield { step: 'waiting', addresses: ['192.0.2.7:47123'], word: 'lajig-bujub' };
      await new Promise(() => undefined);
    });
  });
  await user.click(await screen.findByRole('button', { name: 'Invite a laptop' }));
  await user.type(screen.getByLabelText('Whose laptop'), 'Nell Varr');
  await user.click(screen.getByRole('checkbox'));
  await user.type(screen.getByLabelText('Whose laptop'), '{Enter}');
  await screen.findByText('lajig-bujub');
  expect(document.activeElement?.textContent).toBe('For Nell Varr, with a director’s rights');
  await user.keyboard('{Enter} ');
  expect(screen.getByText('lajig-bujub')).toBeTruthy();
  expect(isStopped).toBe(false);
  await user.click(screen.getByRole('button', { name: 'Stop' }));
  await waitFor(() => expect(isStopped).toBe(true));
});
