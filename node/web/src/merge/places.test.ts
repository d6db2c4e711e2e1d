import { create } from '@bufbuild/protobuf';
import { expect, test } from 'vitest';
import { MergedPartSchema } from '../gen/plumbline/v1/ledger_pb';
import { optionsOf, placesOf, proposalOf } from './places';

const part = (text: string, before = text, ...versions: string[]) =>
  create(MergedPartSchema, { text, before, versions, overlap: text === '' && versions.length > 0 });

const late = part('', 'Late', 'Early', 'Wild', 'Late');

test('a place offers what each changed it to, both in a row, and what it was', () => {
  expect(optionsOf(late, [1, 2, 3], true)).toEqual([
    { key: '1', text: 'Early', of: [1] },
    { key: '2', text: 'Wild', of: [2] },
    { key: 'b', text: 'Early Wild', of: [] },
    { key: '0', text: 'Late', of: [] },
  ]);
});

test('who wrote the same answers to each of their numbers; without an ancestor nothing was before', () => {
  expect(optionsOf(part('', '', 'Long', 'Short', 'Long'), [1, 3, 4], false)).toEqual([
    { key: '1', text: 'Long', of: [1, 4] },
    { key: '3', text: 'Short', of: [3] },
    { key: 'b', text: 'Long Short', of: [] },
  ]);
});

test('one who only took something out leaves nothing to put in a row', () => {
  expect(optionsOf(part('', ' late', '', ' early'), [1, 2], true).map((one) => one.key)).toEqual(['1', '2', '0']);
});

test('the text is whole once every place is chosen, each for itself', () => {
  const places = placesOf([late, part(' with '), part('both', 'one', 'both', 'one', 'one'), late]);
  const [first, , , second] = places.map((place) => place.name);
  expect(first).not.toBe(second);
  expect(proposalOf(places, {})).toBeUndefined();
  expect(proposalOf(places, { [first ?? '']: 'Early' })).toBeUndefined();
  expect(proposalOf(places, { [first ?? '']: 'Early', [second ?? '']: '' })).toBe('Early with both');
});
