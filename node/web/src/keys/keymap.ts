// Every key that the page knows. Pages bind to the names; the help sheet is made from the list. A key that isn't here
// does nothing.

export const places = ['everywhere', 'prospects', 'prospect', 'records', 'conflicts', 'doubles', 'laptops'] as const;
export type Place = (typeof places)[number];

export interface Key {
  place: Place;
  keys: readonly string[];
  does: string;
  /** Not in the palette: a movement, or a key that needs to be known. */
  command?: false;
}

export const keymap = {
  help: { place: 'everywhere', keys: ['?'], does: 'show the keys; Esc hides them', command: false },
  palette: { place: 'everywhere', keys: ['Ctrl+k'], does: 'go to a prospect, or do something, by name', command: false },
  goProspects: { place: 'everywhere', keys: ['g p'], does: 'go to the prospects' },
  goConflicts: { place: 'everywhere', keys: ['g c'], does: 'go to the conflicts' },
  goDoubles: { place: 'everywhere', keys: ['g 2'], does: 'go to the doubles' },
  goImport: { place: 'everywhere', keys: ['g i'], does: 'go to the import of tables' },
  goLaptops: { place: 'everywhere', keys: ['g l'], does: 'go to the laptops' },
  goLists: { place: 'everywhere', keys: ['g r'], does: 'go to the other records: games, factors, people' },
  newProspect: { place: 'everywhere', keys: ['N'], does: 'enter a new prospect' },
  look: { place: 'everywhere', keys: ['g d'], does: 'change between dark and light' },
  search: { place: 'prospects', keys: ['/'], does: 'search' },
  filter: { place: 'prospects', keys: ['f'], does: 'filter by an expression' },
  down: { place: 'prospects', keys: ['j', 'ArrowDown'], does: 'next row', command: false },
  up: { place: 'prospects', keys: ['k', 'ArrowUp'], does: 'previous row', command: false },
  first: { place: 'prospects', keys: ['Home', 'g g'], does: 'first row', command: false },
  last: { place: 'prospects', keys: ['End', 'G'], does: 'last row', command: false },
  open: { place: 'prospects', keys: ['Enter', 'o'], does: 'open the prospect', command: false },
  renew: { place: 'prospects', keys: ['r'], does: 'let in what arrived, sorted anew' },
  saveCSV: { place: 'prospects', keys: ['e c'], does: 'save this list as CSV' },
  saveXLSX: { place: 'prospects', keys: ['e x'], does: 'save this list as a workbook (XLSX)' },
  showRetired: { place: 'prospects', keys: ['t'], does: 'show or hide those who were retired' },
  back: { place: 'prospect', keys: ['Escape', 'u'], does: 'back to the prospects' },
  next: { place: 'prospect', keys: ['j'], does: 'next prospect of the list', command: false },
  previous: { place: 'prospect', keys: ['k'], does: 'previous prospect of the list', command: false },
  settleHere: { place: 'prospect', keys: ['c'], does: 'settle his conflicts' },
  edit: { place: 'prospect', keys: ['e'], does: 'go to the fields, to change one' },
  history: { place: 'prospect', keys: ['h'], does: 'show or hide the history' },
  addMeasurement: { place: 'prospect', keys: ['a m'], does: 'add a measurement' },
  addLook: { place: 'prospect', keys: ['a l'], does: 'add a look' },
  chart: { place: 'prospect', keys: ['a r'], does: 'chart reps of your latest look' },
  addEvaluation: { place: 'prospect', keys: ['a e'], does: 'write your evaluation' },
  addClaim: { place: 'prospect', keys: ['a c'], does: 'add a claim to your evaluation' },
  addNote: { place: 'prospect', keys: ['a n'], does: 'add a note' },
  addFlag: { place: 'prospect', keys: ['a f'], does: 'add a flag (directors)' },
  addAssignment: { place: 'prospect', keys: ['a a'], does: 'send somebody to look (directors)' },
  fileIt: { place: 'prospect', keys: ['F'], does: 'file your evaluation' },
  retire: { place: 'prospect', keys: ['x'], does: 'retire him, or keep him again' },
  openLook: { place: 'prospect', keys: ['l'], does: 'open the reps of the next look' },
  addRecord: { place: 'records', keys: ['n'], does: 'add a record of this kind' },
  searchRecords: { place: 'records', keys: ['/'], does: 'search them' },
  downRecord: { place: 'records', keys: ['j', 'ArrowDown'], does: 'next record', command: false },
  upRecord: { place: 'records', keys: ['k', 'ArrowUp'], does: 'previous record', command: false },
  openRow: { place: 'records', keys: ['Enter', 'o'], does: 'open the record', command: false },
  changeRecord: { place: 'records', keys: ['e'], does: 'change the record that is open' },
  retireRecord: { place: 'records', keys: ['x'], does: 'retire the record that is open, or keep it again' },
  backToRecords: { place: 'records', keys: ['Escape', 'u'], does: 'back to the list', command: false },
  choose: { place: 'conflicts', keys: ['1', '2', '3', '4', '5', '6', '7', '8', '9'], does: 'keep the value with this number', command: false },
  write: { place: 'conflicts', keys: ['e'], does: 'write another value, or go on with the merged text' },
  merge: { place: 'conflicts', keys: ['m'], does: 'go to the next place of a text that is to be chosen' },
  skip: { place: 'conflicts', keys: ['j', 'ArrowDown'], does: 'next conflict, leaving this one', command: false },
  before: { place: 'conflicts', keys: ['k', 'ArrowUp'], does: 'previous conflict', command: false },
  join: { place: 'doubles', keys: ['y'], does: 'they are one player: join them' },
  apart: { place: 'doubles', keys: ['n'], does: 'they are two: keep them apart' },
  nextPair: { place: 'doubles', keys: ['j', 'ArrowDown'], does: 'next pair', command: false },
  pairBefore: { place: 'doubles', keys: ['k', 'ArrowUp'], does: 'previous pair', command: false },
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
