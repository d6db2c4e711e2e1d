// Every key that the page knows. Pages bind to the names; the help sheet is made from the list. A key that isn't here
// does nothing.

export const places = ['everywhere', 'prospects', 'prospect', 'conflicts', 'doubles', 'laptops'] as const;
export type Place = (typeof places)[number];

interface Key {
  place: Place;
  keys: readonly string[];
  does: string;
}

export const keymap = {
  help: { place: 'everywhere', keys: ['?'], does: 'show the keys; Esc hides them' },
  palette: { place: 'everywhere', keys: ['Ctrl+k'], does: 'go to a prospect, or do something, by name' },
  goProspects: { place: 'everywhere', keys: ['g p'], does: 'go to the prospects' },
  goConflicts: { place: 'everywhere', keys: ['g c'], does: 'go to the conflicts' },
  goDoubles: { place: 'everywhere', keys: ['g 2'], does: 'go to the doubles' },
  goImport: { place: 'everywhere', keys: ['g i'], does: 'go to the import of tables' },
  goLaptops: { place: 'everywhere', keys: ['g l'], does: 'go to the laptops' },
  look: { place: 'everywhere', keys: ['g d'], does: 'change between dark and light' },
  search: { place: 'prospects', keys: ['/'], does: 'search' },
  filter: { place: 'prospects', keys: ['f'], does: 'filter by an expression' },
  down: { place: 'prospects', keys: ['j', 'ArrowDown'], does: 'next row' },
  up: { place: 'prospects', keys: ['k', 'ArrowUp'], does: 'previous row' },
  first: { place: 'prospects', keys: ['Home', 'g g'], does: 'first row' },
  last: { place: 'prospects', keys: ['End', 'G'], does: 'last row' },
  open: { place: 'prospects', keys: ['Enter', 'o'], does: 'open the prospect' },
  renew: { place: 'prospects', keys: ['r'], does: 'let in what arrived, sorted anew' },
  back: { place: 'prospect', keys: ['Escape', 'u'], does: 'back to the prospects' },
  next: { place: 'prospect', keys: ['j'], does: 'next prospect of the list' },
  previous: { place: 'prospect', keys: ['k'], does: 'previous prospect of the list' },
  settleHere: { place: 'prospect', keys: ['c'], does: 'settle his conflicts' },
  edit: { place: 'prospect', keys: ['e'], does: 'go to the fields, to change one' },
  history: { place: 'prospect', keys: ['h'], does: 'show or hide the history' },
  choose: { place: 'conflicts', keys: ['1', '2', '3', '4', '5', '6', '7', '8', '9'], does: 'keep the value with this number' },
  write: { place: 'conflicts', keys: ['e'], does: 'write another value, or go on with the merged text' },
  merge: { place: 'conflicts', keys: ['m'], does: 'go to the next place of a text that is to be chosen' },
  skip: { place: 'conflicts', keys: ['j', 'ArrowDown'], does: 'next conflict, leaving this one' },
  before: { place: 'conflicts', keys: ['k', 'ArrowUp'], does: 'previous conflict' },
  join: { place: 'doubles', keys: ['y'], does: 'they are one player: join them' },
  apart: { place: 'doubles', keys: ['n'], does: 'they are two: keep them apart' },
  nextPair: { place: 'doubles', keys: ['j', 'ArrowDown'], does: 'next pair' },
  pairBefore: { place: 'doubles', keys: ['k', 'ArrowUp'], does: 'previous pair' },
  invite: { place: 'laptops', keys: ['i'], does: 'invite a laptop (directors)' },
  connect: { place: 'laptops', keys: ['c'], does: 'type an address to connect to' },
  openRecord: { place: 'conflicts', keys: ['o'], does: 'open the record' },
} as const satisfies Record<string, Key>;

export type Action = keyof typeof keymap;

/** How a key is written on the sheet. */
export function keyName(key: string): string {
  const names: Record<string, string> = { ArrowDown: '↓', ArrowUp: '↑', Escape: 'Esc', Enter: 'Enter' };
  return key
    .split(' ')
    .map((part) => names[part] ?? part)
    .join(' ');
}
