/** The columns of the list. Heads are the words of the trade's own tables. */
export interface Column {
  name: string;
  head: string;
  width: string;
  number?: true;
  /** Left out first where there is little room. */
  extra?: true;
  /** Kept on a screen held in the hand, where names are looked up and the rest is a tap away. */
  slim?: string;
}

export const columns: readonly Column[] = [
  { name: 'name', head: 'Name', width: 'minmax(11rem, 2fr)', slim: 'minmax(0, 1fr)' },
  { name: 'position', head: 'Position', width: 'minmax(6.5rem, 1fr)', slim: '6rem' },
  { name: 'school', head: 'School', width: 'minmax(9rem, 1.6fr)' },
  { name: 'class_year', head: 'Class', width: '3.75rem', number: true, extra: true },
  { name: 'height', head: 'Height', width: '4.25rem', number: true },
  { name: 'weight', head: 'Weight', width: '4.5rem', number: true },
  { name: 'arm', head: 'Arm', width: '3.75rem', number: true },
  { name: 'forty', head: 'Forty', width: '4rem', number: true, extra: true },
  { name: 'looks', head: 'Looks', width: '4.25rem', number: true },
  { name: 'reps', head: 'Reps', width: '4rem', number: true },
  { name: 'won_share', head: 'Won', width: '4rem', number: true },
  { name: 'evaluations', head: 'Eval.', width: '4rem', number: true, extra: true },
  { name: 'overall', head: 'Overall', width: '4.75rem', number: true, slim: '3.75rem' },
];

/** Sorting by a column again turns it around; numbers begin with the highest. */
export function nextSort(sort: string, column: Column): string {
  const down = `-${column.name}`;
  if (column.number) return sort === down ? column.name : down;
  return sort === column.name ? down : column.name;
}
