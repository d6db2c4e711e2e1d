import { createContext, type ReactNode, useCallback, useContext, useEffect, useState } from 'react';

/** How a line looks: something is done, or it isn't. */
type Manner = 'done' | 'refused';

const SayContext = createContext<(text: string, manner?: Manner) => void>(() => undefined);

/** Says in a line that something is done, or why it isn't. */
export const useSay = () => useContext(SayContext);

/** How long it stays, in milliseconds. */
const stay = 6000;

const silent = { text: '', manner: 'done', time: 0 } as const;

/** One line at the foot of the page: what was just saved, or wasn't, whatever page one is on by then. */
export function Said({ children }: { children: ReactNode }) {
  const [said, setSaid] = useState<{ text: string; manner: Manner; time: number }>(silent);
  const say = useCallback((text: string, manner: Manner = 'done') => setSaid((before) => ({ text, manner, time: before.time + 1 })), []);
  useEffect(() => {
    const timer = setTimeout(() => setSaid(silent), stay);
    return () => clearTimeout(timer);
  }, [said.time]);
  return (
    <SayContext value={say}>
      {children}
      <p className="said-line" data-manner={said.manner} role="status" aria-live="polite">
        {said.text}
      </p>
    </SayContext>
  );
}
