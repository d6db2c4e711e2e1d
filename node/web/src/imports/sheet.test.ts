import { expect, test } from 'vitest';
import { readSheet } from './sheet';

const bytes = (text: string) => new TextEncoder().encode(text);

// RFC 4180, section 2, rules 5 to 7: quoted cells may hold line breaks, commas and doubled quotes.
test('a line keeps its number where quoted cells hold line breaks', () => {
  const { heads, lines } = readSheet(bytes('\uFEFFname, Remarks\r\n"Vale, Orrin","two\r\nlines ""so"""\r\nDask,none\r\n'), [2, 4]);
  expect(heads).toEqual(['name', 'Remarks']);
  expect(lines).toEqual([
    { line: 2, cells: ['Vale, Orrin', 'two\r\nlines "so"'] },
    { line: 4, cells: ['Dask', 'none'] },
  ]);
});

test('semicolons part cells too', () => {
  expect(readSheet(bytes('name;height\nOrrin Vale;6046\n'), []).heads).toEqual(['name', 'height']);
});
