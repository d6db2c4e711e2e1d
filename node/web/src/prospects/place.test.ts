import { expect, test } from 'vitest';
import { complete } from './complete';
import { placeOf } from './place';

test('a mistake is found where the node says', () => {
  const text = 'position == "tackle" && armm >= 334';
  const said = 'line 1, column 25: nothing is called "armm" here; did you mean arm?\n  position\n  ^';
  expect(placeOf(said, text)).toEqual({
    before: 'position == "tackle" && ',
    wrong: 'armm',
    after: ' >= 334',
    reason: 'nothing is called "armm" here; did you mean arm?',
  });
});

test('columns count characters, lines are kept apart, and an end is a place', () => {
  expect(placeOf('line 1, column 15: no', 'name == "𝒪" = 3')?.wrong).toBe('3');
  expect(placeOf('line 2, column 1: no', 'looks > 1 &&\nfoo')?.wrong).toBe('foo');
  expect(placeOf('line 1, column 8: the expression ends too early', 'looks >')).toMatchObject({ before: 'looks >', wrong: '' });
  expect(placeOf('something else', 'looks')).toBeUndefined();
});

test('names are completed from the word before the caret, and not inside of quotes', () => {
  const names = ['arm', 'arm_source', 'looks'].map((name) => ({ name, help: '', type: '' }));
  expect(complete('looks > 1 && ar', 15, names)).toMatchObject({ from: 13, names: [{ name: 'arm' }, { name: 'arm_source' }] });
  expect(complete('arm', 3, names).names.map((one) => one.name)).toEqual(['arm_source']);
  expect(complete('school == "ar', 13, names).names).toEqual([]);
  expect(complete('looks ', 6, names).names).toEqual([]);
});
