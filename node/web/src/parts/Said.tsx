import { createContext, type ReactNode, useCallback, useContext, useEffect, useState } from 'react';

const SayContext = createContext<(text: string) => void>(() => undefined);

/** Says in a line that something is done. */
export const useSay = () => useContext(SayContext);

/** How long it stays, in milliseconds. */
const stay = 6000;

/** One line at the foot of the page: what was just saved, whatever page one is on by then. */
export function Said({ children }: { children: ReactNode }) {
  const [said, setSaid] = useState({ text: '', time: 0 });
  const say = useCallback((text: string) => setSaid((before) => ({ text, time: before.time + 1 })), []);
  useEffect(() => {
    const timer = setTimeout(() => setSaid({ text: '', time: 0 }), stay);
    return () => clearTimeout(timer);
  }, [said.time]);
  return (
    <SayContext value={say}>
      {children}
      <p className="said-line" role="status" aria-live="polite">
        {said.text}
      </p>
    </SayContext>
  );
}
