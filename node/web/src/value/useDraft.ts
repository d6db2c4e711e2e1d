import { useCallback, useState } from 'react';

/** Text that is being typed. It outlives a reload, a lost node and going elsewhere; only saving or emptying it ends it. */
export function useDraft(about: string): [string, (text: string) => void] {
  const key = `plumbline.draft/${about}`;
  const [text, setText] = useState(() => sessionStorage.getItem(key) ?? '');
  const write = useCallback(
    (next: string) => {
      setText(next);
      if (next === '') sessionStorage.removeItem(key);
      else sessionStorage.setItem(key, next);
    },
    [key],
  );
  return [text, write];
}
