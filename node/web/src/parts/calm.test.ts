import { act, renderHook } from '@testing-library/react';
import { expect, test } from 'vitest';
import { arrange, useCalm } from './calm';

interface Row {
  id: string;
  text: string;
}
const rows = (...texts: string[]): Row[] => texts.map((text) => ({ id: text.charAt(0), text }));
const key = (row: Row) => row.id;

test('contents change in place', () => {
  const calm = arrange(rows('a1', 'b1'), rows('a1', 'b2'), key);
  expect(calm.rows.map((one) => one.row.text)).toEqual(['a1', 'b2']);
  expect(calm.waiting).toBe(0);
});

test('what is new, gone or elsewhere waits', () => {
  const shown = rows('a', 'b', 'c');
  expect(arrange(shown, rows('x', 'a', 'b', 'c'), key)).toMatchObject({ waiting: 1 });
  const gone = arrange(shown, rows('a', 'c'), key);
  expect(gone.rows.map((one) => [one.row.id, one.gone])).toEqual([['a', false], ['b', true], ['c', false]]); // prettier-ignore
  expect(gone.waiting).toBe(1);
  const moved = arrange(shown, rows('b', 'a', 'c'), key);
  expect(moved.rows.map((one) => one.row.id)).toEqual(['a', 'b', 'c']);
  expect(moved.waiting).toBe(2);
});

test('another question, or the reader, lets everything in', () => {
  const { result, rerender } = renderHook(({ came, question }) => useCalm(came, question, key), {
    initialProps: { came: rows('a', 'b') as Row[] | undefined, question: 'one' },
  });
  const shown = () => result.current.rows.map((one) => one.row.id).join('');
  rerender({ came: rows('b', 'a', 'c'), question: 'one' });
  expect(shown()).toBe('ab');
  act(() => result.current.renew());
  expect(shown()).toBe('bac');
  rerender({ came: undefined, question: 'two' });
  expect(shown()).toBe('bac'); // nothing blinks while the answer is under way
  rerender({ came: rows('c'), question: 'two' });
  expect(shown()).toBe('c');
});

test('the rest of an answer goes below its beginning', () => {
  const { result, rerender } = renderHook(({ came, isPart }) => useCalm(came, 'one', key, isPart), {
    initialProps: { came: rows('a', 'b'), isPart: true },
  });
  rerender({ came: rows('x', 'a', 'b', 'c'), isPart: false });
  expect(result.current.rows.map((one) => one.row.id).join('')).toBe('abxc');
});

test('where there was nothing, what arrives is there', () => {
  const { result, rerender } = renderHook(({ came }) => useCalm(came, 'one', key), { initialProps: { came: rows() } });
  rerender({ came: rows('a') });
  expect(result.current.rows.map((one) => one.row.id)).toEqual(['a']);
  rerender({ came: rows('b', 'a') });
  expect(result.current.rows.map((one) => one.row.id)).toEqual(['a']);
});
