import { expect, test } from 'vitest';
import { onPage } from './transport';

// What the node says is held by cmd/plumbline/testdata/reading.txt.
test('the way of a command is told in the page’s own way', () => {
  const said = 'not one of the words for this; did you mean tackle?; all of them: plumbline fields prospect';
  expect(onPage(said)).toBe('not one of the words for this; did you mean tackle?; ↓ in the empty field lists them all');
  expect(onPage('jersey is in conflict')).toBe('jersey is in conflict');
  const again = 'Orrin Vale was retired once more since it was read, by Tobin Ash: read it again, and pass the as_of of that answer if it is to stay';
  expect(onPage(again)).toBe('Orrin Vale was retired once more since it was read, by Tobin Ash: look at it as it is now, and answer once more');
  expect(onPage("doesn't, 'quoted'")).toBe('doesn’t, \'quoted\'');
});
