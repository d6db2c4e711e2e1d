import { create } from '@bufbuild/protobuf';
import { expect, test } from 'vitest';
import { RecordSchema } from '../gen/plumbline/v1/record_pb';
import { field } from '../test/records';
import { changedMeanwhile, emptyDraft, newId, readDraft, writesOf } from './draft';
import { dayOf, readDay, step } from './days';
import { lineOf, partsOf } from './readingParts';

// RFC 4648, section 10, has "foobar" as MZXW6YTBOI; the node takes it in small letters. Zeros fill up to 16 bytes.
test('an id is 16 bytes in base32', () => {
  const of = (text: string) => newId((bytes) => (bytes.set(new TextEncoder().encode(text)), bytes));
  expect(of('foobar')).toBe(`mzxw6ytboi${'a'.repeat(16)}`);
  expect(of('ÿÿÿÿÿÿÿÿ')).toHaveLength(26);
  expect(newId()).toMatch(/^[a-z2-7]{26}$/);
  expect(newId()).not.toBe(newId());
});

const orrin = create(RecordSchema, {
  id: 'orrin',
  kind: 'prospect',
  fields: [field('school', [{ text: 'Salt Lick', by: 'Mara Quill' }]), field('jersey', [{ text: '71', by: 'Mara Quill' }])],
});

test('a change writes what differs, over the values that were on screen when typing began', () => {
  const draft = { ...emptyDraft(), typed: { school: { text: 'Wren Hollow ' }, jersey: { text: '71' } }, seen: { school: ['tobin.1'] } };
  expect(writesOf(draft, {}, orrin)).toEqual([{ field: 'school', text: 'Wren Hollow', clear: false, seen: ['tobin.1'] }]);
  const cleared = { ...emptyDraft(), typed: { jersey: { text: ' ' } } };
  expect(writesOf(cleared, {}, orrin)).toEqual([{ field: 'jersey', text: '', clear: true, seen: ['maraquill.1.71'] }]);
  expect(changedMeanwhile(draft, orrin)).toEqual(['school']);
  expect(changedMeanwhile({ ...draft, seen: { school: ['maraquill.1.Salt Lick'] } }, orrin)).toEqual([]);
});

test('a new record writes all that is filled, references by id, and what its place gives', () => {
  const draft = { ...emptyDraft(), typed: { note: { text: '' }, game: { text: 'Low Ridge at Salt Lick', ids: ['game1'] } } };
  expect(writesOf(draft, { prospect: { text: 'Orrin Vale', ids: ['orrin'] } })).toMatchObject([
    { field: 'game', text: 'game1', seen: [] },
    { field: 'prospect', text: 'orrin' },
  ]);
});

test('a draft of another version of the page is none', () => {
  expect(readDraft('half a tex')).toBeUndefined();
  expect(readDraft('{"typed":"x"}')).toBeUndefined();
  const draft = { ...emptyDraft(), typed: { note: { text: 'quiet fe' } } };
  expect(readDraft(JSON.stringify(draft))).toEqual(draft);
});

test('days are typed by a word and stepped through, over the ends of months and years', () => {
  const now = new Date(2026, 2, 1, 23, 59);
  expect([readDay(' Today', now), readDay('yesterday', now), readDay('2026-0', now)]).toEqual(['2026-03-01', '2026-02-28', '2026-0']);
  expect([step('2028-02-28', 1, now), step('2027-01-01', -1, now), step('', 1, now)]).toEqual(['2028-02-29', '2026-12-31', '2026-03-01']);
  expect(dayOf(new Date(2026, 10, 9))).toBe('2026-11-09');
});

// An arm of 33 4/8 inches is written 334 (common practice, no source).
test('a reading is one line with a field for each part', () => {
  expect(partsOf('334, verified, 2026-02-28')).toEqual({ number: '334', source: 'verified', timing: '', date: '2026-02-28' });
  expect(partsOf('4.98, electronic, listed')).toEqual({ number: '4.98', source: 'listed', timing: 'electronic', date: '' });
  expect(partsOf('')).toEqual({ number: '', source: '', timing: '', date: '' });
  expect(lineOf({ number: ' 6-4 3/4', source: 'estimated', timing: '', date: '' })).toBe('6-4 3/4 estimated');
});
