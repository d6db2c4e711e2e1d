import { createContext, type ReactNode, useContext, useEffect, useMemo, useState } from 'react';

/** What the list of prospects is asked, and where the reader is in it. It outlives the page of one prospect. */
export interface Question {
  search: string;
  where: string;
  sort: string;
  /** Also those who were retired. */
  hidden: boolean;
}

interface ListState {
  question: Question;
  ask: (change: Partial<Question>) => void;
  /** The row that the keys move. */
  current: string;
  setCurrent: (id: string) => void;
  /** The ids of the list as it stands, for going to the next one. */
  order: readonly string[];
  setOrder: (order: readonly string[]) => void;
}

const ListContext = createContext<ListState | undefined>(undefined);
const key = 'plumbline.list';
const usual: Question = { search: '', where: '', sort: 'name', hidden: false };

function kept(): Question {
  try {
    return { ...usual, ...(JSON.parse(sessionStorage.getItem(key) ?? '{}') as Partial<Question>) };
  } catch {
    return usual; // written by another version of the page
  }
}

export function ListProvider({ children }: { children: ReactNode }) {
  const [question, setQuestion] = useState(kept);
  const [current, setCurrent] = useState('');
  const [order, setOrder] = useState<readonly string[]>([]);
  useEffect(() => sessionStorage.setItem(key, JSON.stringify(question)), [question]);
  const state = useMemo(
    () => ({
      question,
      ask: (change: Partial<Question>) => setQuestion((old) => ({ ...old, ...change })),
      current,
      setCurrent,
      order,
      setOrder,
    }),
    [question, current, order],
  );
  return <ListContext value={state}>{children}</ListContext>;
}

export function useListState(): ListState {
  const state = useContext(ListContext);
  if (!state) throw new Error('the list’s state is used outside of ListProvider');
  return state;
}
