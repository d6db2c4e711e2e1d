import { expect, test } from 'vitest';
import type { Change } from './share';
import { idsIn, isTouched } from './touched';

const orrin = 'aiaac6gzdnekmdvkwsdpi3mhwhqrzoq';
const nell = 'aiaadpof5syy6bzryblvff56jmz63ky';
const fresh = 'aiaaebkiuorqpzebkswih4qspjmwuhy';
const known = new Set([orrin, nell]);
const change = (records: string[], more: Partial<Change> = {}): Change => ({
  entries: 1, stateHash: 'h', records, many: false, peers: false, ...more,
}); // prettier-ignore
const held = (method: string, ...ids: string[]) => ({ method, ids: new Set(ids) });

test('one prospect is read anew when he changed, not when another one did', () => {
  expect(isTouched(held('Get', orrin), change([orrin]), known)).toBe(true);
  expect(isTouched(held('Get', orrin), change([nell]), known)).toBe(false);
  expect(isTouched(held('History', nell), change([orrin]), known)).toBe(false);
});

test('a new record may refer to any', () => {
  expect(isTouched(held('Get', orrin), change([fresh]), known)).toBe(true);
});

test('lists and conflicts are worked out from all records', () => {
  for (const method of ['List', 'Conflicts', 'Doubles']) {
    expect(isTouched(held(method), change([nell]), known)).toBe(true);
    expect(isTouched(held(method), change([]), known)).toBe(false);
  }
});

test('laptops that come and go touch only what names them', () => {
  const peers = change([], { peers: true });
  expect(isTouched(held('Status'), peers, known)).toBe(true);
  expect(isTouched(held('List'), peers, known)).toBe(false);
});

test('entries that count for nothing name no record, and touch what lists them', () => {
  for (const method of ['SetAside', 'Status']) expect(isTouched(held(method), change([]), known)).toBe(true);
  expect(isTouched(held('Get', orrin), change([]), known)).toBe(false);
});

test('everything but the schema is read anew when too much changed to name', () => {
  const many = change([], { many: true });
  expect(isTouched(held('Get', orrin), many, known)).toBe(true);
  expect(isTouched(held('List'), many, known)).toBe(true);
  expect(isTouched(held('Schema'), many, known)).toBe(false);
});

test('ids are found wherever they stand', () => {
  const answer = { record: { id: orrin, title: 'Orrin Vale' }, related: [{ members: [nell] }], at: 3n, none: undefined };
  expect([...idsIn(answer)].sort()).toEqual([orrin, nell].sort());
});
