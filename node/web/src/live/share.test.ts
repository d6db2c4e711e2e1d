import { afterEach, expect, test } from 'vitest';
import { newLocks } from '../test/locks';
import { type Change, follow, type Link, type Sharing } from './share';

const ends: (() => void)[] = [];
afterEach(() => {
  for (const end of ends.splice(0)) end();
});

/** A node whose streams the test writes to, and ends. */
class Source {
  opened = 0;
  private send: (change: Change | Error | undefined) => void = () => undefined;

  async *open(signal: AbortSignal): AsyncGenerator<Change> {
    this.opened++;
    const waiting: (Change | Error | undefined)[] = [];
    let wake: () => void = () => undefined;
    const push = (one: Change | Error | undefined) => {
      waiting.push(one);
      wake();
    };
    this.send = push;
    signal.addEventListener('abort', () => push(undefined));
    for (;;) {
      while (waiting.length === 0) await new Promise<void>((resolve) => (wake = resolve));
      const next = waiting.shift();
      if (next === undefined) return;
      if (next instanceof Error) throw next;
      yield next;
    }
  }
  tell(stateHash: string, ...records: string[]) {
    this.send({ entries: 1, stateHash, records, many: false, peers: false });
  }
  fail(error = new Error('gone')) {
    this.send(error);
  }
}

function tab(source: Source, locks: Sharing['locks'], name: string) {
  const seen: { changes: Change[]; links: Link[]; pauses: number[]; goOn: () => void; check: () => void; hang: () => void; wake: () => void; close: () => void } = {
    changes: [],
    links: [],
    pauses: [],
    goOn: () => undefined,
    check: () => undefined,
    hang: () => undefined,
    wake: () => undefined,
    close: () => undefined,
  };
  const channel = new BroadcastChannel(name);
  const following = follow({
    open: (signal) => source.open(signal),
    isRefusal: (error) => error instanceof Error && error.message === 'refused',
    locks,
    channel,
    pause: (milliseconds) => {
      seen.pauses.push(milliseconds);
      return new Promise((resolve) => (seen.goOn = resolve));
    },
    onChange: (change) => seen.changes.push(change),
    onLink: (link) => seen.links.push(link),
  });
  seen.check = following.check;
  const listen = channel.onmessage;
  seen.hang = () => (channel.onmessage = () => undefined);
  seen.wake = () => (channel.onmessage = listen);
  seen.close = () => {
    following.stop();
    channel.close();
  };
  ends.push(seen.close);
  return seen;
}

async function until(what: () => boolean) {
  while (!what()) await new Promise((resolve) => setTimeout(resolve, 1));
}

test('two tabs share one stream, and the second takes it over', async () => {
  const source = new Source();
  const locks = newLocks();
  const first = tab(source, locks, 'over');
  await until(() => source.opened === 1);
  const second = tab(source, locks, 'over');
  source.tell('h1');
  source.tell('h2', 'rec');
  await until(() => second.changes.length === 2);
  expect(source.opened).toBe(1);
  expect(second.links.at(-1)).toBe('live');
  expect(second.changes[1]?.records).toEqual(['rec']);

  first.close();
  await until(() => source.opened === 2);
  source.tell('h2');
  await until(() => second.changes.length === 3);
  expect(second.changes[2]?.many).toBe(true); // it doesn't know what it missed
});

test('a tab that answers keeps the stream, and one that hangs loses it', async () => {
  const source = new Source();
  const locks = newLocks();
  const first = tab(source, locks, 'hung');
  await until(() => source.opened === 1);
  source.tell('h1');
  const second = tab(source, locks, 'hung');
  await until(() => second.links.length > 0);
  for (let i = 0; i < 3; i++) {
    second.check();
    await new Promise((resolve) => setTimeout(resolve, 20)); // for the answer to come
  }
  expect(source.opened).toBe(1);

  first.hang();
  second.check();
  second.check();
  await until(() => source.opened === 2);
  source.tell('h2');
  await until(() => second.changes.at(-1)?.stateHash === 'h2');
  expect(second.changes.at(-1)?.many).toBe(true); // it doesn't know what it missed

  first.wake();
  first.check();
  source.tell('h3', 'rec');
  await until(() => first.changes.at(-1)?.stateHash === 'h3'); // it hears from the one that leads now
  expect(source.opened).toBe(2);
  second.close();
  await until(() => source.opened === 3); // and it takes the stream back
});

test('a tab that comes later is told how things stand', async () => {
  const source = new Source();
  const locks = newLocks();
  tab(source, locks, 'late');
  await until(() => source.opened === 1);
  source.tell('h1');
  const late = tab(source, locks, 'late');
  await until(() => late.links.length > 0);
  expect(late.links).toEqual(['live']);
});

test('a node that is away is asked again, ever less often, and its return costs nothing if nothing changed', async () => {
  const source = new Source();
  const one = tab(source, newLocks(), 'away');
  await until(() => source.opened === 1);
  source.tell('h1');
  await until(() => one.changes.length === 1);
  for (const attempt of [2, 3, 4]) {
    source.fail();
    await until(() => one.pauses.length === attempt - 1);
    expect(one.links.at(-1)).toBe('away');
    one.goOn();
    await until(() => source.opened === attempt);
  }
  expect(one.pauses).toEqual([250, 500, 1000]);
  source.tell('h1');
  await until(() => one.changes.length === 2);
  expect(one.changes[1]?.many).toBe(false);
  expect(one.links.at(-1)).toBe('live');
});

test('what changed while the node was away is read anew', async () => {
  const source = new Source();
  const one = tab(source, newLocks(), 'missed');
  await until(() => source.opened === 1);
  source.tell('h1');
  source.fail();
  await until(() => one.pauses.length === 1);
  one.goOn();
  await until(() => source.opened === 2);
  source.tell('h2');
  await until(() => one.changes.length === 2);
  expect(one.changes[1]?.many).toBe(true);
});

test('a refusal isn’t asked again', async () => {
  const source = new Source();
  const one = tab(source, newLocks(), 'refused');
  await until(() => source.opened === 1);
  source.fail(new Error('refused'));
  await until(() => one.links.at(-1) === 'refused');
  expect(one.pauses).toEqual([]);
});
