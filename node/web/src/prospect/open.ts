import { useNavigate, useSearch } from '@tanstack/react-router';

/** What is open on a prospect's page besides his records. It stands in the address, so that a reload finds it again. */
export interface Open {
  /** The kind of record that is being added, */
  add?: string;
  /** to this one: the look of a rep, the evaluation of a claim. */
  to?: string;
  /** The record that is being changed. */
  change?: string;
  /** The look whose reps are shown. */
  look?: string;
}

const names = ['add', 'to', 'change', 'look'] as const;

export function readOpen(search: { [name: string]: unknown }): Open {
  return Object.fromEntries(names.flatMap((name) => (typeof search[name] === 'string' ? [[name, search[name]]] : [])));
}

export function useOpen(): [Open, (next: Open) => void] {
  const open = useSearch({ from: '/prospects/$id' });
  const navigate = useNavigate({ from: '/prospects/$id' });
  return [open, (search) => void navigate({ search, replace: true, resetScroll: false })];
}
