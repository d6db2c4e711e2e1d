import { useCallback, useSyncExternalStore } from 'react';

const prefix = 'plumbline.draft/';
const listeners = new Set<() => void>();

function listen(then: () => void): () => void {
  listeners.add(then);
  addEventListener('storage', then);
  return () => {
    listeners.delete(then);
    removeEventListener('storage', then);
  };
}

/** Whether something that was typed about a record isn't saved: in a form of it, or in one of its fields. */
export function useUnsaved(record: string): boolean {
  const begins = [`${prefix}form/${record}`, `${prefix}${record}/`];
  return useSyncExternalStore(listen, () => Object.keys(localStorage).some((key) => begins.some((one) => key.startsWith(one))));
}

/**
 * Text that is being typed about something, empty if none. It outlives a reload, a lost node, another page and a closed tab,
 * and is one in all tabs of a browser: what is typed in one goes on in another. Only emptying it ends it.
 */
export function useKept(about: string): [string, (text: string) => void] {
  const key = prefix + about;
  const kept = useSyncExternalStore(listen, () => localStorage.getItem(key) ?? '');
  const keep = useCallback(
    (text: string) => {
      if (text === '') localStorage.removeItem(key);
      else localStorage.setItem(key, text);
      for (const then of listeners) then();
    },
    [key],
  );
  return [kept, keep];
}
